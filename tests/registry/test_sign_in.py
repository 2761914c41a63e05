"""Signing in, and the wait after too many wrong passwords."""

import pytest
from django.urls import reverse

from registry import sign_in
from tests.factories import make_user

URL = reverse("registry:sign-in")
RIGHT, WRONG = "correct-horse", "battery-staple"
WAIT = "Too many wrong passwords"


@pytest.fixture
def person(db):
    return make_user()


def tell(client, person, password, machine="192.0.2.1", address=URL):
    data = {"username": person.email.upper(), "password": password}
    return client.post(address, data, REMOTE_ADDR=machine)


def guess(client, person, count, **how):
    for _ in range(count):
        response = tell(client, person, WRONG, **how)
    return response


def test_a_few_wrong_passwords_do_no_harm(client, person):
    assert WAIT not in guess(client, person, sign_in.MOST_FROM_ONE - 1).content.decode()
    assert tell(client, person, RIGHT).status_code == 302


def test_after_ten_wrong_ones_even_the_right_one_waits(client, person):
    assert WAIT in guess(client, person, sign_in.MOST_FROM_ONE).content.decode()
    response = tell(client, person, RIGHT)
    assert response.status_code == 200
    assert "Wait 15 minutes" in response.content.decode()


def test_the_wait_ends(client, person, monkeypatch):
    monkeypatch.setattr(sign_in, "WAIT_S", 0)
    guess(client, person, sign_in.MOST_FROM_ONE + 1)
    assert tell(client, person, RIGHT).status_code == 302


def test_a_stranger_who_guesses_shuts_nobody_out_elsewhere(client, person):
    guess(client, person, sign_in.MOST_FROM_ONE, machine="198.51.100.7")
    assert tell(client, person, RIGHT).status_code == 302
    guess(client, person, sign_in.MOST_FROM_ONE)
    assert tell(client, make_user(), RIGHT).status_code == 302


def test_guesses_from_many_machines_come_to_an_end_too(client, person, monkeypatch):
    monkeypatch.setattr(sign_in, "MOST_FROM_ALL", 20)
    for number in range(20):
        guess(client, person, 1, machine=f"198.51.100.{number}")
    assert WAIT in tell(client, person, RIGHT).content.decode()


def test_signing_in_forgets_the_wrong_ones(client, person):
    for _ in range(3):
        guess(client, person, sign_in.MOST_FROM_ONE - 1)
        assert tell(client, person, RIGHT).status_code == 302
        client.logout()


def test_the_keepers_admin_waits_with_the_book(client, person):
    person.is_staff = True
    person.save()
    admin = reverse("admin:login")
    guess(client, person, sign_in.MOST_FROM_ONE, address=admin)
    assert tell(client, person, RIGHT, address=admin).status_code == 200
    assert tell(client, person, RIGHT).status_code == 200
