"""How long a session lasts, what a browser may keep, and the list of one's sessions."""

import time

import pytest
from allauth.usersessions.models import UserSession
from django.test import Client
from django.urls import reverse

from registry.models import SignIn
from tests.factories import make_user

SIGN_IN = reverse("account_login")
ACCOUNT = reverse("registry:account")
RIGHT = "correct-horse"


@pytest.fixture
def person(db):
    return make_user()


def sign_in(person, browser="Mozilla/5.0 (X11; Linux) Firefox/140.0") -> Client:
    client = Client(HTTP_USER_AGENT=browser)
    answer = client.post(SIGN_IN, {"login": person.email, "password": RIGHT})
    assert answer.status_code == 302
    return client


def shift(client, **back):
    session = client.session
    for name, seconds in back.items():
        session[name] -= seconds
    session.save()


@pytest.mark.parametrize(
    ("back", "what", "words"),
    [
        ({"seen": 3601}, "idle", "nothing was done for 1 hour"),
        ({"begun": 7201}, "over", "a session lasts 2 hours at most"),
    ],
)
def test_a_session_ends_by_itself_and_says_why(person, settings, back, what, words):
    settings.SESSION_IDLE_S, settings.SESSION_LONGEST_S = 3600, 7200
    client = sign_in(person)
    assert client.get(ACCOUNT).status_code == 200
    shift(client, **back)
    answer = client.get(ACCOUNT, follow=True)
    assert answer.redirect_chain == [(f"{SIGN_IN}?next={ACCOUNT}", 302)]
    assert words in " ".join(answer.text.split())
    assert SignIn.objects.filter(person=person).first().what == what
    assert client.get(ACCOUNT).status_code == 302


def test_what_is_done_keeps_a_session_but_not_beyond_its_longest(person, settings):
    settings.SESSION_IDLE_S, settings.SESSION_LONGEST_S = 3600, 7200
    client = sign_in(person)
    for _ in range(2):
        shift(client, seen=3500, begun=3500)
        assert client.get(ACCOUNT).status_code == 200
        assert time.time() - client.session["seen"] < 60
    shift(client, begun=300)
    assert client.get(ACCOUNT).status_code == 302


def test_a_new_password_changes_the_key_of_the_session(person):
    """ASVS 7.2.4: a session is never gone on with under the key it had before signing in."""
    client = Client()
    client.get(SIGN_IN)
    session = client.session
    session["something"] = 1
    session.save()
    before = session.session_key
    client.post(SIGN_IN, {"login": person.email, "password": RIGHT})
    assert client.session.session_key != before


def test_pages_of_a_person_are_kept_nowhere_and_pages_for_all_are_as_before(person):
    client = sign_in(person)
    for address in (ACCOUNT, reverse("reports:portfolio"), reverse("registry:echo")):
        assert "no-store" in client.get(address)["Cache-Control"], address
    worker = Client().get(reverse("registry:run-worker"))
    assert b"".join(worker)
    assert worker["Cache-Control"] == "no-cache"


def test_signing_out_clears_what_the_browser_kept_but_not_what_waits_to_be_sent(person):
    """“storage” would take what a phone has not sent yet: docs/phone.md promises to keep it."""
    client = sign_in(person)
    answer = client.post(reverse("account_logout"))
    assert answer["Clear-Site-Data"] == '"cache"'
    assert client.get(ACCOUNT).status_code == 302
    assert "Clear-Site-Data" not in client.get(SIGN_IN)


def test_a_look_at_sign_out_signs_nobody_out(person):
    client = sign_in(person)
    assert client.get(reverse("account_logout")).status_code == 200
    assert client.get(ACCOUNT).status_code == 200


def test_cookies_are_out_of_reach_of_scripts_and_over_https_bound_to_the_host(settings):
    import os
    import subprocess
    import sys
    from pathlib import Path

    assert settings.SESSION_COOKIE_HTTPONLY and settings.SESSION_COOKIE_SAMESITE == "Lax"
    script = (
        "from config import settings as s; print(s.SESSION_COOKIE_NAME, s.SESSION_COOKIE_SECURE)"
    )
    env = os.environ | {"PUBLIC_URL": "https://book.averhythe.example", "SECRET_KEY": "k" * 60}
    said = subprocess.run(
        [sys.executable, "-c", script], env=env, cwd=Path(__file__).parents[3],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert said.stdout.split() == ["__Host-sessionid", "True"]


def test_a_person_sees_their_sessions_and_ends_one_of_them(person):
    here = sign_in(person)
    there = sign_in(person, "Mozilla/5.0 (iPhone) Safari/605.1")
    page = here.get(reverse("usersessions_list"))
    assert "Firefox, Linux" in page.text
    assert "Safari, iPhone" in page.text
    other = UserSession.objects.get(session_key=there.session.session_key)
    assert here.post(reverse("usersessions_list"), {"session": other.pk}).status_code == 302
    assert there.get(ACCOUNT).status_code == 302
    assert here.get(ACCOUNT).status_code == 200
    assert SignIn.objects.filter(person=person, what="ended", browser="Safari, iPhone").exists()


def test_all_other_sessions_end_at_once(person):
    here, there, elsewhere = sign_in(person), sign_in(person), sign_in(person)
    here.post(reverse("usersessions_list"), {})
    assert [c.get(ACCOUNT).status_code for c in (here, there, elsewhere)] == [200, 302, 302]


def test_nobody_ends_the_session_of_somebody_else(person):
    mine, theirs = sign_in(person), sign_in(make_user())
    row = UserSession.objects.get(session_key=theirs.session.session_key)
    for key in (row.pk, "x", "9" * 40, -1):
        answer = mine.post(reverse("usersessions_list"), {"session": key})
        assert answer.status_code == 404, key
    assert theirs.get(ACCOUNT).status_code == 200


def test_a_changed_password_ends_the_sessions_elsewhere(person):
    here, there = sign_in(person), sign_in(person)
    new = "four quiet herons wade"
    answers = {"oldpassword": RIGHT, "password1": new}
    answer = here.post(reverse("account_change_password"), answers)
    assert answer["Location"] == ACCOUNT
    assert [c.get(ACCOUNT).status_code for c in (here, there)] == [200, 302]
    person.refresh_from_db()
    assert person.check_password(new)


def test_a_closed_account_is_out_at_once(person):
    client = sign_in(person)
    person.is_active = False
    person.save()
    assert client.get(ACCOUNT).status_code == 302
    answer = client.post(SIGN_IN, {"login": person.email, "password": RIGHT}, follow=True)
    assert "This account is closed" in answer.text
    assert client.get(ACCOUNT).status_code == 302
