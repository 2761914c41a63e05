"""Signing in, and the wait after too many wrong passwords."""

import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import SignIn
from registry.signing_in import attempts
from tests.factories import make_user

URL = reverse("account_login")
RIGHT, WRONG = "correct-horse", "battery-staple"
WAIT = "Too many wrong passwords"
What = SignIn.What


@pytest.fixture
def person(db):
    return make_user()


def tell(client, person, password, machine="192.0.2.1", address=URL, **how):
    data = {"login": person.email.upper(), "password": password}
    return client.post(address, data, REMOTE_ADDR=machine, **how)


def guess(client, person, count, **how):
    for _ in range(count):
        response = tell(client, person, WRONG, **how)
    return response


def test_a_few_wrong_passwords_do_no_harm(client, person):
    page = guess(client, person, attempts.MOST_FROM_ONE - 1)
    assert WAIT not in page.text
    assert "No account has this e-mail address and this password." in page.text
    assert tell(client, person, RIGHT).status_code == 302


def test_after_ten_wrong_ones_even_the_right_one_waits(client, person):
    assert WAIT in guess(client, person, attempts.MOST_FROM_ONE).text
    response = tell(client, person, RIGHT)
    assert response.status_code == 200
    assert "Wait 15 minutes" in response.text
    assert SignIn.objects.first().what == What.LIMITED


def test_the_wait_ends_and_what_was_refused_does_not_make_it_longer(client, person):
    guess(client, person, attempts.MOST_FROM_ONE + 5)
    SignIn.objects.exclude(what=What.LIMITED).update(
        at=timezone.now() - attempts.WAIT - timedelta(seconds=1)
    )
    assert tell(client, person, RIGHT).status_code == 302


def test_a_stranger_who_guesses_shuts_nobody_out_elsewhere(client, person):
    guess(client, person, attempts.MOST_FROM_ONE, machine="198.51.100.7")
    assert tell(client, person, RIGHT).status_code == 302
    client.logout()
    guess(client, person, attempts.MOST_FROM_ONE)
    assert tell(client, make_user(), RIGHT).status_code == 302


def test_guesses_from_many_machines_come_to_an_end_too(client, person, monkeypatch):
    monkeypatch.setattr(attempts, "MOST_FROM_ALL", 20)
    for number in range(20):
        guess(client, person, 1, machine=f"198.51.100.{number}")
    assert WAIT in tell(client, person, RIGHT).text


@pytest.mark.parametrize("machine", ["198.51.100.9", "2001:db8:0:7::{}"])
def test_one_password_tried_on_many_accounts_comes_to_an_end(client, person, machine, monkeypatch):
    """A household of version 6 has a whole /64 to come from."""
    monkeypatch.setattr(attempts, "MOST_OF_MACHINE", 12)
    for number in range(12):
        somebody = type(person)(email=f"somebody{number}@averhythe.example")
        tell(client, somebody, WRONG, machine=machine.format(number + 1))
    assert WAIT in tell(client, person, RIGHT, machine=machine.format("ffff")).text
    assert tell(client, person, RIGHT, machine="2001:db8:0:8::1").status_code == 302


def test_signing_in_forgets_the_wrong_ones(client, person):
    for _ in range(3):
        guess(client, person, attempts.MOST_FROM_ONE - 1)
        assert tell(client, person, RIGHT).status_code == 302
        client.logout()


def test_an_address_that_nobody_has_waits_alike(client, person):
    """Or the wait would tell who has an account."""
    nobody = type(person)(email="nobody@averhythe.example")
    assert WAIT in guess(client, nobody, attempts.MOST_FROM_ONE).text
    assert not SignIn.objects.filter(account__contains="nobody").exists()


def test_the_keepers_admin_has_no_door_of_its_own(client, person):
    person.is_staff = True
    person.save()
    there = reverse("admin:index")
    door = client.get(there, follow=True)
    assert door.redirect_chain[-1][0] == f"{URL}?next={there.replace('/', '%2F')}"
    guess(client, person, attempts.MOST_FROM_ONE)
    assert client.post(reverse("admin:login"), {"username": person.email}).status_code == 302
    assert tell(client, person, RIGHT).status_code == 200


def test_a_proxy_of_ours_says_who_asks_and_nobody_else_does(client, person, settings):
    """What stands first in the header is said by whoever asks; the last was seen by our proxy."""
    for number in range(attempts.MOST_FROM_ONE):
        guess(client, person, 1, headers={"X-Forwarded-For": f"203.0.113.{number}"})
    assert WAIT in tell(client, person, RIGHT).text
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    for number in range(attempts.MOST_FROM_ONE):
        chain = f"203.0.113.{number}, 198.51.100.44"
        guess(client, person, 1, machine="127.0.0.1", headers={"X-Forwarded-For": chain})
    last = {"headers": {"X-Forwarded-For": "9.9.9.9, 198.51.100.44"}, "machine": "127.0.0.1"}
    assert WAIT in tell(client, person, RIGHT, **last).text
    other = {"headers": {"X-Forwarded-For": "198.51.100.45"}, "machine": "127.0.0.1"}
    assert tell(client, person, RIGHT, **other).status_code == 302


@pytest.mark.parametrize("said", ["", "unknown", "not an address, at all", "[::1]:443"])
def test_a_proxy_that_says_nonsense_shuts_nobody_out(client, person, settings, said):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 2
    assert tell(client, person, RIGHT, headers={"X-Forwarded-For": said}).status_code == 302


def test_only_addresses_of_the_book_are_gone_to_afterwards(client, person):
    for there in ("https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"):
        data = {"login": person.email, "password": RIGHT, "next": there}
        assert client.post(URL, data)["Location"] == reverse("reports:portfolio"), there
        client.logout()


TRIES = """
import sys, django
from django.conf import settings
django.setup()
from django.test import Client
client = Client()
said = [
    client.post("/sign-in/", {"login": sys.argv[1], "password": "wrong"}, SERVER_NAME="localhost")
    for _ in range(6)
]
print(sum("Too many wrong" in page.text for page in said))
"""


def test_the_limit_holds_over_several_processes_without_redis(tmp_path):
    """Three processes with a memory of their own, at once: 18 guesses, of which 10 are judged."""
    import os

    outside = {"DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE"}
    env = {name: value for name, value in os.environ.items() if name not in outside} | {
        "RISERBOOK_VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings",
    }  # fmt: skip
    root = Path(__file__).parents[3]
    run = {"cwd": root, "env": env, "text": True}
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], check=True, **run)
    command = [sys.executable, "-c", TRIES, "olive@averhythe.example"]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, **run) for _ in range(3)]
    refused = [int(process.communicate()[0]) for process in running]
    # The tenth wrong one says it too: who reads it knows that the next is not judged. Those that
    # are judged at the same moment count before they are known to be wrong, so it may be fewer.
    assert 8 <= sum(refused) < 18
    again = subprocess.run(command, stdout=subprocess.PIPE, check=True, **run)
    assert again.stdout.strip() == "6"
