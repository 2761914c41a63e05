"""An organisation asks all its people for a second step, and who has none is led to it first."""

import uuid

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from registry.models import AccessEntry, Organisation, OwnerRecord, Record
from registry.services.access.inviting import invite, link_of
from registry.services.access.second_step import demand_second_step
from registry.services.owner_ledger import begin_ledger
from registry.verifying.owner import check_owner
from tests.factories import NOW, make_user
from tests.registry.second_step_world import give_app, give_passkey
from tests.registry.signing_in.test_second_step import add_app, code_of, sign_in

pytestmark = pytest.mark.django_db
SET_UP = reverse("mfa_index")
PORTFOLIO = reverse("reports:portfolio")
PHONE = reverse("registry:phone")


def page_of(organisation):
    return reverse("registry:people-second-step", args=[organisation.pk])


def ask(organisation, answer=True):
    Organisation.objects.filter(pk=organisation.pk).update(demands_second_step=answer)


@pytest.fixture
def led(client, world):
    begin_ledger(world.owner_organisation, now=NOW)
    client.force_login(world.owner)
    return client


@pytest.fixture
def owing(client, world):
    """The contractor's technician, who signs in after it was asked."""
    ask(world.contractor)
    client.force_login(world.technician)
    return client


def test_a_manager_asks_it_and_the_book_says_so(led, world):
    give_app(world.owner)
    assert "Vic Viewer" in led.get(page_of(world.owner_organisation)).text
    answer = led.post(page_of(world.owner_organisation), {"ask": "yes"})
    assert answer.status_code == 302
    world.owner_organisation.refresh_from_db()
    assert world.owner_organisation.demands_second_step
    told = OwnerRecord.objects.get(subject="second step")
    assert (told.change, told.recorded_by) == ("entered", world.owner)
    assert told.facts == {"name": "Averhythe Quays"}
    log = reverse("registry:access-log", args=[world.owner_organisation.pk])
    assert "Averhythe Quays asks all its people for a second step." in led.get(log).text
    led.post(page_of(world.owner_organisation), {"ask": "no"})
    assert "asks its people for a second step no more" in led.get(log).text
    assert OwnerRecord.objects.filter(subject="second step", change="removed").exists()
    assert AccessEntry.objects.filter(subject="second step", by=world.owner).count() == 2
    assert list(check_owner(world.owner_organisation)) == []


def test_the_book_of_an_owner_says_it_of_its_contractor_too(world):
    begin_ledger(world.owner_organisation, now=NOW)
    boss = make_user(world.contractor, "manager", "Bo Boss")
    give_passkey(boss)
    demand_second_step(
        organisation=world.contractor, is_demanded=True, changed_by=boss, now=timezone.now()
    )
    told = OwnerRecord.objects.get(subject="second step")
    assert (told.facts["name"], told.recorded_by) == (world.contractor.name, boss)
    assert list(check_owner(world.owner_organisation)) == []


def test_what_is_changed_past_the_book_is_found(world):
    begin_ledger(world.owner_organisation, now=NOW)
    ask(world.owner_organisation)
    assert any("Second step" in one for one in check_owner(world.owner_organisation))


def test_whoever_has_none_does_not_ask_it_of_others(led, world):
    answer = led.post(page_of(world.owner_organisation), {"ask": "yes"})
    assert "You have no second step yourself yet" in answer.text
    world.owner_organisation.refresh_from_db()
    assert not world.owner_organisation.demands_second_step
    assert not OwnerRecord.objects.filter(subject="second step").exists()


def test_the_only_manager_is_told_what_a_lost_phone_means(led, world):
    words = "You are the only manager of Averhythe Quays who can sign in."
    assert words in " ".join(led.get(page_of(world.owner_organisation)).text.split())
    make_user(world.owner_organisation, "manager", "May Manager")
    assert words not in " ".join(led.get(page_of(world.owner_organisation)).text.split())


def test_who_asks_it_says_again_who_they_are(led, world, settings):
    give_app(world.owner)
    settings.PROVE_AGAIN_S = 0
    answer = led.post(page_of(world.owner_organisation), {"ask": "yes"})
    assert answer["Location"].startswith("/confirm/")
    world.owner_organisation.refresh_from_db()
    assert not world.owner_organisation.demands_second_step


def test_who_has_none_is_led_to_it_and_nothing_else_opens(owing, world, system):
    for address in (
        PORTFOLIO, "/", reverse("registry:account"), system.get_absolute_url(),
        reverse("reports:portfolio-csv"), reverse("usersessions_list"), reverse("admin:index"),
    ):  # fmt: skip
        assert owing.get(address)["Location"] == SET_UP, address
    kind = reverse("registry:record-new", args=[system.pk, "reading.pressure"])
    assert owing.post(kind, {})["Location"] == SET_UP
    page = owing.get(SET_UP)
    assert f"{world.contractor} asks for a second step of everybody" in page.text
    assert reverse("scheduling:work") not in page.text
    for name in ("mfa_activate_totp", "mfa_add_webauthn", "account_logout"):
        assert owing.get(reverse(name)).status_code == 200, name


def test_what_is_open_to_everybody_stays_open(owing):
    assert owing.get(reverse("registry:health")).status_code == 200


def test_an_invitation_is_not_accepted_before(owing, world):
    row = invite(
        organisation=world.owner_organisation, kind="member", email=world.technician.email,
        role="manager", invited_by=world.owner, now=timezone.now(),
    )  # fmt: skip
    address = link_of(row)[link_of(row).index("/invited/") :]
    assert owing.post(address)["Location"] == SET_UP
    assert not world.owner_organisation.memberships.filter(user=world.technician).exists()


@pytest.mark.django_db(transaction=True)
def test_once_it_is_set_up_the_way_goes_on(client, world):
    ask(world.contractor)
    answer = sign_in(client, world.technician)
    assert answer["Location"] == reverse("scheduling:work")
    there = f"{PORTFOLIO}?sort=tag"
    assert client.get(there)["Location"] == SET_UP
    add_app(client)
    codes = client.get(reverse("mfa_view_recovery_codes")).text
    assert f'<a href="{there}">I have kept them: go on</a>' in codes
    assert client.get(there).status_code == 200
    assert "owes_second_step" not in client.session


def test_who_has_one_is_not_stopped(client, world):
    ask(world.contractor)
    secret = give_app(world.technician)
    sign_in(client, world.technician)
    client.post(reverse("mfa_authenticate"), {"code": code_of(secret)})
    assert client.get(PORTFOLIO).status_code == 200


def test_recovery_codes_alone_are_no_second_step(client, world):
    ask(world.contractor)
    Authenticator.objects.create(user=world.technician, type="recovery_codes", data={})
    client.force_login(world.technician)
    assert client.get(PORTFOLIO)["Location"] == SET_UP


def test_it_begins_with_the_next_sign_in_and_ends_when_it_is_asked_no_more(client, world):
    client.force_login(world.technician)
    ask(world.contractor)
    assert client.get(PORTFOLIO).status_code == 200
    again = Client()
    again.force_login(world.technician)
    assert again.get(PORTFOLIO)["Location"] == SET_UP
    ask(world.contractor, False)
    assert again.get(PORTFOLIO).status_code == 200
    assert client.get(PORTFOLIO).status_code == 200


def test_the_owner_s_people_are_not_asked_for_what_the_contractor_wants(client, world):
    ask(world.contractor)
    client.force_login(world.owner)
    assert client.get(PORTFOLIO).status_code == 200


def test_an_entry_of_a_phone_gets_the_plain_answer_and_is_taken_afterwards(owing, world, system):
    address = reverse("registry:record-new", args=[system.pk, "reading.pressure"])
    entry = {
        "client_key": str(uuid.uuid4()), "occurred_at": "2026-05-31T10:00",
        "pressure_gauge_pa": "61 psi", "where": "riser",
    }  # fmt: skip
    headers = {"X-Kept-By": str(world.technician.uuid)}
    answer = owing.post(address, entry, headers=headers)
    assert answer.status_code == 403
    assert answer.json()["is"] == "second_step"
    assert f"{world.contractor} asks for a second step" in answer.json()["says"]
    assert owing.get(PHONE).json()["is"] == "second_step"
    assert not Record.objects.filter(system=system, kind="reading.pressure").exists()
    give_app(world.technician)
    assert owing.get(PHONE).json()["key"]
    again = owing.post(address, entry, headers=headers)
    assert again.json()["is"] == "written", again.content
    assert Record.objects.filter(system=system, kind="reading.pressure").count() == 1


def test_the_last_second_step_stays_while_it_is_asked(client, world):
    secret = give_app(world.technician)
    passkey = give_passkey(world.technician)
    client.force_login(world.technician)
    ask(world.contractor)
    remove = reverse("mfa_remove_webauthn", args=[passkey.pk])
    assert client.get(remove).status_code == 200
    assert client.post(reverse("mfa_deactivate_totp")).status_code == 302
    for answer in (client.get(remove), client.post(remove)):
        assert "this is your only one" in answer.text
    assert Authenticator.objects.filter(pk=passkey.pk).exists()
    assert secret
    ask(world.contractor, False)
    assert client.post(remove).status_code == 302
    assert not Authenticator.objects.filter(user=world.technician).exists()


def test_the_last_app_stays_too(client, world):
    give_app(world.technician)
    client.force_login(world.technician)
    ask(world.contractor)
    answer = client.post(reverse("mfa_deactivate_totp"))
    assert "this is your only one" in answer.text.replace("\n", " ")
    assert Authenticator.objects.filter(user=world.technician, type="totp").exists()


def test_a_session_without_a_debt_is_asked_nothing(client, world, django_assert_num_queries):
    client.force_login(world.owner)
    client.get(PHONE)
    with django_assert_num_queries(2):  # session and person
        client.get(PHONE)
