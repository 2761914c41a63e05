"""Authenticator app, recovery codes, and the question who one is before a secret is shown."""

import re

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    format_hotp_value,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.core import mail
from django.test import Client
from django.urls import reverse

from registry.models import SignIn
from tests.factories import make_user
from tests.registry.second_step_world import give_app, give_passkey

SIGN_IN, STEP = reverse("account_login"), reverse("mfa_authenticate")
PROVE = reverse("account_reauthenticate")
ACCOUNT = reverse("registry:account")
RIGHT = "correct-horse"


@pytest.fixture
def person(db):
    return make_user()


def code_of(secret: str) -> str:
    counter = next(iter(yield_hotp_counters_from_time()))
    return format_hotp_value(hotp_value(secret, counter))


def sign_in(client, person):
    return client.post(SIGN_IN, {"login": person.email, "password": RIGHT})


def add_app(client) -> str:
    page = client.get(reverse("mfa_activate_totp"))
    secret = re.search(r"<code>(\w+)</code>", page.text)[1]
    answer = client.post(reverse("mfa_activate_totp"), {"code": code_of(secret)})
    assert answer["Location"] == reverse("mfa_view_recovery_codes")
    return secret


@pytest.mark.django_db(transaction=True)
def test_an_app_is_added_shows_recovery_codes_and_is_asked_for_from_then_on(client):
    person = make_user()
    sign_in(client, person)
    secret = add_app(client)
    codes = re.findall(r"<code>(\d{8})</code>", client.get(reverse("mfa_view_recovery_codes")).text)
    assert len(set(codes)) == 10
    assert "An authenticator app was added" in [one.subject for one in mail.outbox]
    assert all(one.to == [person.email] for one in mail.outbox)

    again = Client()
    assert sign_in(again, person)["Location"] == STEP
    assert again.get(ACCOUNT).status_code == 302
    assert "not right" in again.post(STEP, {"code": "000000"}).text
    # The code that was used to add the app is used up; the recovery code works once.
    assert again.post(STEP, {"code": codes[0]})["Location"] == reverse("reports:portfolio")
    assert again.get(ACCOUNT).status_code == 200
    third = Client()
    sign_in(third, person)
    assert third.post(STEP, {"code": codes[0]}).status_code == 200
    assert third.get(ACCOUNT).status_code == 302
    assert SignIn.objects.filter(person=person, what="in").first().how == "password, recovery code"
    assert SignIn.objects.filter(person=person, what="wrong-code").count() == 2
    assert SignIn.objects.filter(person=person, what="half").exists()
    assert secret not in str(Authenticator.objects.values_list("data", flat=True))


def test_what_lies_in_the_database_is_sealed_and_opens_with_the_key_of_the_book(person, client):
    secret = give_app(person)
    stored = Authenticator.objects.get(user=person).data["secret"]
    assert secret not in stored
    sign_in(client, person)
    assert client.post(STEP, {"code": code_of(secret)}).status_code == 302
    assert client.get(ACCOUNT).status_code == 200


def test_a_code_works_once(person):
    secret = give_app(person)
    first, second = Client(), Client()
    for one in (first, second):
        sign_in(one, person)
    code = code_of(secret)
    first.post(STEP, {"code": code})
    second.post(STEP, {"code": code})
    assert [c.get(ACCOUNT).status_code for c in (first, second)] == [200, 302]


def test_codes_cannot_be_guessed_without_end(client, person):
    secret = give_app(person)
    sign_in(client, person)
    for number in range(10):
        page = client.post(STEP, {"code": f"{number:06}"})
    assert "Too many tries in a short time" in page.text
    client.post(STEP, {"code": code_of(secret)})
    assert client.get(ACCOUNT).status_code == 302


def test_the_second_step_is_no_door_of_its_own(client, person):
    give_app(person)
    assert client.get(STEP)["Location"] == SIGN_IN
    assert client.post(STEP, {"code": "123456"})["Location"] == SIGN_IN


def test_taking_the_app_off_is_noted_and_told(client, person):
    give_app(person)
    client.force_login(person)
    assert client.post(reverse("mfa_deactivate_totp")).status_code == 302
    assert not Authenticator.objects.exists()
    assert SignIn.objects.filter(person=person, what="removed", how="authenticator app").exists()
    assert mail.outbox[-1].subject == "The authenticator app was taken off"


SECRETS = [
    ("get", "mfa_activate_totp", {}),
    ("get", "mfa_add_webauthn", {}),
    ("get", "mfa_view_recovery_codes", {}),
    ("get", "mfa_download_recovery_codes", {}),
    ("get", "mfa_generate_recovery_codes", {}),
    ("post", "scheduling:feed-new", {"label": "Work", "scope": "person", "holds": ["tasks"],
                                     "horizon_days": "365"}),
    ("post", "scheduling:webhooks", {"url": "https://hooks.averhythe.example/"}),
]  # fmt: skip


@pytest.mark.parametrize(("method", "name", "data"), SECRETS)
def test_before_a_secret_is_shown_the_person_says_who_they_are(
    client, world, settings, method, name, data
):
    RecoveryCodes.activate(world.owner)
    client.force_login(world.owner)
    settings.PROVE_AGAIN_S = 0
    there = reverse(name)
    asked = getattr(client, method)(there, data)
    assert asked.status_code == 302, asked.content[:400]
    assert asked["Location"].startswith(reverse("account_reauthenticate")[:9])
    assert f"next={there.replace('/', '%2F')}" in asked["Location"]


def test_every_view_that_shows_a_secret_asks_first(client, world, settings):
    from tests.world_objects import make_objects

    objects = make_objects(world)
    Authenticator.objects.all().delete()
    client.force_login(world.owner)
    settings.PROVE_AGAIN_S = 0
    for name in ("reports:package-share", "reports:riser-sign", "scheduling:webhook-secret"):
        there = reverse(name, kwargs=objects[name])
        assert client.post(there)["Location"].startswith(PROVE), name
        assert client.post(there)["Location"].startswith(PROVE), name


def test_what_was_typed_is_sent_once_the_person_has_said_who_they_are(client, world, settings):
    client.force_login(world.owner)
    settings.PROVE_AGAIN_S = 0
    there = reverse("scheduling:feed-new")
    data = {"label": "Van", "scope": "person", "holds": ["tasks"], "horizon_days": "365"}
    asked = client.post(there, data)["Location"]
    assert "This is not the password" in client.post(asked, {"password": "wrong"}).text
    assert not world.owner.feed_tokens.exists()
    settings.PROVE_AGAIN_S = 900
    shown = client.post(asked, {"password": RIGHT, "next": there})
    assert shown.status_code == 200
    assert "/feeds/" in shown.text or "webcal" in shown.text
    assert world.owner.feed_tokens.get().label == "Van"
    assert SignIn.objects.filter(person=world.owner, what="proved", how="password").count() == 1
    assert SignIn.objects.filter(person=world.owner, what="wrong").count() == 1


def test_who_has_just_signed_in_is_not_asked(client, person):
    sign_in(client, person)
    assert client.get(reverse("mfa_activate_totp")).status_code == 200


def test_saying_who_one_is_waits_like_signing_in(client, person):
    client.force_login(person)
    for _ in range(9):
        client.post(PROVE, {"password": "wrong"})
    assert SignIn.objects.filter(person=person, what="wrong").count() == 9
    assert "Too many" in client.post(PROVE, {"password": "wrong"}).text


def test_passkeys_are_listed_renamed_and_removed_by_their_person_alone(client, person):
    mine, theirs = give_passkey(person), give_passkey(make_user())
    client.force_login(person)
    assert "Work phone" in client.get(reverse("mfa_list_webauthn")).text
    client.post(reverse("mfa_edit_webauthn", args=[mine.pk]), {"name": "Van tablet"})
    assert "Van tablet" in client.get(reverse("mfa_list_webauthn")).text
    for name in ("mfa_edit_webauthn", "mfa_remove_webauthn"):
        assert client.post(reverse(name, args=[theirs.pk]), {"name": "x"}).status_code == 404
    client.post(reverse("mfa_remove_webauthn", args=[mine.pk]))
    assert list(Authenticator.objects.all()) == [theirs]
