"""Which passwords are refused, and a forgotten one."""

import re
from datetime import timedelta

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core import mail
from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.test import Client
from django.urls import reverse

from registry.models import SignIn
from registry.signing_in.passwords import RefusedList

FORGOTTEN = reverse("account_reset_password")
SIGN_IN = reverse("account_login")
NEW = "four quiet herons wade"


@pytest.fixture
def person(world):
    return world.owner


@pytest.mark.parametrize(
    ("password", "code"),
    [
        ("short", "password_too_short"),
        ("password123", "password_too_common"),
        ("QWERTYUIOP", "password_too_common"),
        ("Riserbook2026!", "book_words"),
        ("nitrogen-sprinkler-7", "book_words"),
        ("Averhythe Quays 2026", "book_words"),
        ("Olive-Manager-99", "book_words"),
    ],
)
def test_what_guessing_tries_first_is_refused(person, password, code):
    with pytest.raises(ValidationError) as refused:
        validate_password(password, person)
    assert code in {error.code for error in refused.value.error_list}


@pytest.mark.parametrize(
    "password",
    ["four quiet herons", "80417 29553 61187", "lowercaseonly-kelpwort", "ñandú überquert Straße",
     "🌊🪢🦀🧭🪝🛶🐚🌬️", "x" * 3 + "kelp barometer " * 8],
)  # fmt: skip
def test_nothing_else_is_asked_of_a_password(person, password):
    validate_password(password, person)
    person.set_password(password)
    assert person.check_password(password)


def test_the_installation_may_bring_a_list_of_stolen_ones(tmp_path, person):
    path = tmp_path / "stolen.txt"
    path.write_text("kelp barometer\nÜbung macht\n", encoding="utf-8")
    rule = RefusedList(str(path))
    rule.validate("something else", person)
    for password in ("Kelp Barometer", "übung macht"):
        with pytest.raises(ValidationError, match="stolen"):
            rule.validate(password, person)
    with pytest.raises(ImproperlyConfigured, match="REFUSED_PASSWORDS_FILE"):
        RefusedList(str(tmp_path / "none.txt")).validate("something else", person)


def ask(client, email):
    return client.post(FORGOTTEN, {"email": email}, follow=True)


def link_in(message) -> str:
    return re.search(r"http://localhost:8000(/sign-in/new-password/\S+)", message.body)[1]


def test_a_forgotten_password_is_set_anew_by_mail_once(client, person):
    elsewhere = Client()
    elsewhere.force_login(person)
    page = ask(client, person.email.upper())
    assert "Nobody learns here which of the two." in " ".join(page.text.split())
    (sent,) = mail.outbox
    assert (sent.to, sent.subject) == ([person.email], "Set a new password")
    link = link_in(sent)
    form = client.get(link, follow=True)
    where = form.redirect_chain[-1][0]
    assert link not in form.text and "set-password" in where
    refused = client.post(where, {"password1": "password"})
    assert "too common" in refused.text
    done = client.post(where, {"password1": NEW}, follow=True)
    assert "The new password is set" in done.text
    person.refresh_from_db()
    assert person.check_password(NEW)
    assert elsewhere.get(reverse("registry:account")).status_code == 302
    assert mail.outbox[-1].subject == "Your password was set anew"
    used = Client().get(link, follow=True)
    assert "was used already" in used.text
    said = SignIn.objects.filter(person=person).values_list("what", flat=True)
    assert {"reset-asked", "reset"} <= set(said)


def test_the_link_is_of_the_book_and_not_of_what_the_request_calls_itself(person, settings):
    settings.ALLOWED_HOSTS = ["*"]
    ask(Client(SERVER_NAME="evil.example"), person.email)
    assert "evil.example" not in mail.outbox[0].body


def test_the_page_says_the_same_for_an_address_that_nobody_has(client, person):
    known, unknown = ask(client, person.email), ask(client, "nobody@averhythe.example")
    strip = re.compile(r'csrf\S+|value="\w{64}"|nonce\S+|"x-csrftoken": "\w+"')
    assert strip.sub("", known.text) == strip.sub("", unknown.text)
    assert mail.outbox[1].subject == "No account has this address"
    assert "/new-password/" not in mail.outbox[1].body


def test_mail_is_not_sent_without_end(client, person):
    for _ in range(3):
        assert ask(client, person.email).status_code == 200
    page = ask(client, person.email)
    assert page.status_code == 429
    assert "asked too often" in page.text
    assert len(mail.outbox) == 3


def test_an_old_link_is_refused(client, person, settings, monkeypatch):
    from django.contrib.auth.tokens import PasswordResetTokenGenerator

    ask(client, person.email)
    link = link_in(mail.outbox[0])
    now = PasswordResetTokenGenerator._now
    later = lambda self: now(self) + timedelta(hours=2, seconds=1)  # noqa: E731
    monkeypatch.setattr(PasswordResetTokenGenerator, "_now", later)
    assert "older than two hours" in client.get(link, follow=True).text


def test_a_mail_of_a_closed_account_leads_nowhere(client, person):
    person.is_active = False
    person.save()
    ask(client, person.email)
    assert "/new-password/" not in mail.outbox[0].body


def test_there_is_no_page_where_strangers_open_an_account(client, db):
    page = client.get(reverse("account_signup"))
    assert "Accounts come by invitation" in page.text
    data = {"email": "stranger@elsewhere.example", "password1": NEW, "password2": NEW}
    client.post(reverse("account_signup"), data)
    from registry.models import User

    assert not User.objects.exists()


def test_a_person_without_a_password_sets_one(client, person):
    person.set_unusable_password()
    person.save()
    client.force_login(person)
    assert reverse("account_set_password") in client.get(reverse("registry:account")).text
    client.post(reverse("account_set_password"), {"password1": NEW})
    person.refresh_from_db()
    assert person.check_password(NEW)
