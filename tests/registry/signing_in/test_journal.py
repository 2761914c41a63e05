"""The log of sign-ins: who sees it, and how long it keeps what."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from registry.models import SignIn
from registry.signing_in.clients import browser_in
from registry.signing_in.journal import forget_old, shortened_address
from tests.factories import make_user

SIGN_IN = reverse("account_login")
MINE, PEOPLE = reverse("registry:sign-in-log"), reverse("registry:sign-in-log-people")
RIGHT = "correct-horse"


def tell(person, password=RIGHT, machine="192.0.2.77"):
    client = Client(
        HTTP_USER_AGENT="Mozilla/5.0 (Windows NT 10.0) Chrome/140 Safari/537.36 Edg/140"
    )
    client.post(SIGN_IN, {"login": person.email, "password": password}, REMOTE_ADDR=machine)
    return client


def test_a_person_sees_their_own_and_nobody_elses(world):
    tell(world.viewer, "wrong", machine="198.51.100.3")
    tell(world.stranger, "wrong", machine="203.0.113.9")
    client = tell(world.viewer)
    page = client.get(MINE).text
    for words in ("Wrong password", "198.51.100.3", "Signed in", "192.0.2.77", "Edge, Windows"):
        assert words in page
    assert "203.0.113.9" not in page
    assert PEOPLE not in page


def test_a_manager_sees_the_people_of_their_organisation_and_no_others(world):
    tell(world.viewer, "wrong", machine="198.51.100.3")
    tell(world.technician, "wrong", machine="198.51.100.4")
    tell(world.stranger, "wrong", machine="203.0.113.9")
    client = tell(world.owner)
    page = client.get(PEOPLE).text
    assert "198.51.100.3" in page and "Vic Viewer" in page
    assert "198.51.100.4" not in page and "203.0.113.9" not in page
    only = client.get(PEOPLE, {"person": world.owner.pk}).text
    assert "198.51.100.3" not in only
    for odd in ("x", "9" * 40, "-1", str(world.stranger.pk)):
        assert "203.0.113.9" not in client.get(PEOPLE, {"person": odd}).text


def test_a_manager_signs_out_their_people_and_nobody_else(world, settings):
    theirs, strangers = tell(world.viewer), tell(world.stranger)
    client = tell(world.owner)
    settings.PROVE_AGAIN_S = 0
    assert client.post(PEOPLE, {"person": world.viewer.pk})["Location"].startswith("/confirm/")
    settings.PROVE_AGAIN_S = 900
    for person in (world.viewer.pk, world.stranger.pk, "x", ""):
        client.post(PEOPLE, {"person": person})
    assert [one.get(MINE).status_code for one in (client, theirs, strangers)] == [200, 302, 200]


def test_a_manager_of_a_contractor_sees_its_people(world):
    boss = make_user(world.contractor, "manager")
    tell(world.technician, "wrong", machine="198.51.100.4")
    assert "198.51.100.4" in tell(boss).get(PEOPLE).text


def test_no_password_and_no_address_that_was_typed_is_kept(world):
    tell(make_user(), "hunter2-typed-here")
    client = Client()
    client.post(SIGN_IN, {"login": "my-secret-word@x.example", "password": "hunter2-typed-here"})
    kept = str(list(SignIn.objects.values()))
    assert "hunter2" not in kept and "my-secret-word" not in kept


def test_signing_out_is_noted(world):
    client = tell(world.viewer)
    client.post(reverse("account_logout"))
    said = list(SignIn.objects.filter(person=world.viewer).values_list("what", flat=True))
    assert said == ["out", "in"]


def test_addresses_are_shortened_after_a_month_and_rows_go_after_thirteen(world):
    for machine in ("192.0.2.77", "2001:db8:5:6::1"):
        tell(world.viewer, "wrong", machine=machine)
    now = timezone.now()
    assert forget_old(now) == (0, 0)
    later = now + timedelta(days=31)
    assert forget_old(later) == (2, 0)
    kept = set(SignIn.objects.values_list("address", flat=True))
    assert kept == {"192.0.2.0/24", "2001:db8:5::/48"}
    assert forget_old(later) == (0, 0)
    assert forget_old(now + timedelta(days=401)) == (0, 2)
    assert not SignIn.objects.exists()


@pytest.mark.parametrize(
    ("address", "short"),
    [("198.51.100.200", "198.51.100.0/24"), ("2001:db8:1:2::3", "2001:db8:1::/48"), ("x", "")],
)
def test_a_shortened_address_is_the_net_it_came_from(address, short):
    assert shortened_address(address) == short


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0) CriOS/140 Safari/604.1", "Chrome, iPhone"),
        ("Mozilla/5.0 (Linux; Android 15) Chrome/140 Safari/537.36", "Chrome, Android"),
        ("curl/8.1\r\nX: y", "curl/8.1X: y"),
        ("", ""),
    ],
)
def test_a_browser_is_named_as_far_as_it_says(said, words):
    assert browser_in(said) == words
