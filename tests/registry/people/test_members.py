"""Roles changed, memberships ended, names, and the log that says so."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import AccessEntry, Invitation, Membership, OwnerRecord
from registry.services.access.inviting import invite
from registry.services.access.log import begin_everywhere
from registry.services.owner_ledger import begin_ledger
from registry.services.register.sites import save_contract
from registry.services.sharing import share_package
from registry.verifying.owner import check_owner
from tests.factories import NOW, make_user
from tests.world_objects import _package

pytestmark = pytest.mark.django_db


@pytest.fixture
def led(client, world):
    begin_ledger(world.owner_organisation, now=NOW)
    client.force_login(world.owner)
    return client


def member(world, person, name="member", organisation=None):
    organisation = organisation or world.owner_organisation
    return reverse(f"registry:{name}", args=[organisation.pk, person.uuid])


def log_of(client, organisation):
    return client.get(reverse("registry:access-log", args=[organisation.pk])).text


def test_a_role_is_changed_and_stands_in_the_ledger_and_the_log(led, world):
    assert led.post(member(world, world.viewer), {"role": "recorder"}).status_code == 302
    assert world.owner_organisation.memberships.get(user=world.viewer).role == "recorder"
    told = OwnerRecord.objects.filter(subject="role", change="changed").get()
    assert (told.facts["role"], told.recorded_by) == ("recorder", world.owner)
    assert list(check_owner(world.owner_organisation)) == []
    page = log_of(led, world.owner_organisation)
    assert "Vic Viewer" in page and "is recorder from now on" in page and "Olive Manager" in page


def test_a_membership_ends_and_the_person_sees_nothing_from_then_on(client, led, world):
    assert led.post(member(world, world.viewer, "member-end")).status_code == 302
    assert "the membership ended" in log_of(led, world.owner_organisation)
    assert list(check_owner(world.owner_organisation)) == []
    client.force_login(world.viewer)
    assert client.get(world.site.get_absolute_url()).status_code == 404


@pytest.mark.parametrize("name", ["member", "member-end"])
def test_the_last_manager_stays(led, world, name):
    sleeper = make_user(world.owner_organisation, "manager", "Sam Sleeper")
    sleeper.is_active = False
    sleeper.save()
    page = led.post(member(world, world.owner, name), {"role": "reader"}, follow=True)
    assert "is the only manager of Averhythe Quays" in page.text
    assert world.owner_organisation.memberships.get(user=world.owner).role == "manager"


def test_one_of_two_managers_may_go_by_themselves(led, world):
    make_user(world.owner_organisation, "manager", "May Manager")
    response = led.post(member(world, world.owner), {"role": "reader"})
    assert response["Location"] == reverse("registry:account")
    assert (
        led.get(reverse("registry:people", args=[world.owner_organisation.pk])).status_code == 403
    )


def test_whoever_manages_no_more_lets_nobody_in_afterwards(led, world):
    other = make_user(world.owner_organisation, "manager", "May Manager")
    invite(
        organisation=world.owner_organisation, kind="member", email="friend@x.example",
        role="manager", invited_by=other, now=timezone.now(),
    )  # fmt: skip
    led.post(member(world, other, "member-end"))
    assert Invitation.objects.get().withdrawn_at


def test_a_person_of_another_organisation_is_none_of_theirs(led, world):
    assert led.get(member(world, world.technician)).status_code == 404
    assert led.post(member(world, world.technician, "member-end")).status_code == 404
    assert Membership.objects.filter(user=world.technician).exists()


def rename(client, name):
    return client.post(reverse("registry:account"), {"name": name, "display_units": "us"})


@pytest.mark.parametrize(
    "name", ["Olive Manager", " olive   manager ", "Olive\u00a0Manager", "\u041elive M\u0430nager"]
)
def test_nobody_takes_the_name_of_somebody_who_is_known_to_the_same_book(client, world, name):
    client.force_login(world.technician)
    page = rename(client, name)
    assert "Somebody else in this book is called so" in page.text
    world.technician.refresh_from_db()
    assert world.technician.name == "Tam Technician"


def test_an_own_name_is_changed_and_both_say_so(client, world):
    begin_ledger(world.owner_organisation, now=NOW)
    begin_everywhere(NOW)
    boss = make_user(world.contractor, "manager", "Bo Boss")
    client.force_login(world.technician)
    assert rename(client, "Tamsin Technician").status_code == 302
    told = OwnerRecord.objects.filter(subject="person", change="changed").get()
    assert (told.facts, told.recorded_by) == ({"name": "Tamsin Technician"}, world.technician)
    client.force_login(boss)
    page = log_of(client, world.contractor)
    assert "Tamsin Technician" in page and "Tam Technician &lt;" in page


def test_the_name_of_a_stranger_to_the_book_may_be_shared(client, world):
    client.force_login(world.stranger)
    assert rename(client, "Tam Technician").status_code == 302


def test_what_was_there_before_is_put_down_to_nobody(led, world):
    led.post(member(world, world.viewer), {"role": "recorder"})
    found = AccessEntry.objects.filter(change="found")
    assert found.exists() and not found.exclude(by=None).exists()
    assert AccessEntry.objects.exclude(change="found").get().by == world.owner
    assert "not known by whom" in log_of(led, world.owner_organisation)


def test_contracts_and_audit_access_stand_in_the_logs_of_both(led, client, world):
    contract = world.site.service_contracts.get()
    save_contract(
        contract=contract, contractor=world.contractor, starts_on=contract.starts_on,
        ends_on=timezone.now().date() + timedelta(days=5), changed_by=world.owner,
    )  # fmt: skip
    access = world.owner_organisation.audit_access_given.get()
    end = reverse("reports:audit-access-end", args=[world.owner_organisation.pk, access.pk])
    assert led.post(end).status_code == 302
    ours = log_of(led, world.owner_organisation)
    assert "Pellmoor Fire Protection serves North Quay" in ours
    assert "Orvane Assurance reads the book of Averhythe Quays" in ours
    boss = make_user(world.contractor, "manager", "Bo Boss")
    client.force_login(boss)
    theirs = log_of(client, world.contractor)
    assert "Pellmoor Fire Protection serves North Quay" in theirs
    assert "Orvane Assurance" not in theirs
    client.force_login(world.auditor)
    assert client.get(world.site.get_absolute_url()).status_code == 404


def test_what_the_keeper_changes_on_the_admin_page_stands_in_the_log(client, world):
    world.owner.is_staff = world.owner.is_superuser = True
    world.owner.save()
    access = world.owner_organisation.audit_access_given.get()
    client.force_login(world.owner)
    client.post(reverse("admin:registry_auditaccess_delete", args=[access.pk]), {"post": "yes"})
    assert "Audit access, ended" in log_of(client, world.owner_organisation)


def test_invitations_stand_in_the_log(led, world):
    invite(
        organisation=world.owner_organisation, kind="member", email="nell@averhythe.example",
        role="reader", invited_by=world.owner, now=timezone.now(),
    )  # fmt: skip
    row = Invitation.objects.get()
    assert "nell@averhythe.example (reader) was invited" in log_of(led, world.owner_organisation)
    led.post(reverse("registry:invitation-withdraw", args=[world.owner_organisation.pk, row.pk]))
    assert "nell@averhythe.example (reader) was withdrawn" in log_of(led, world.owner_organisation)


def test_the_page_shows_members_contracts_and_audits(led, world):
    page = led.get(reverse("registry:people", args=[world.owner_organisation.pk])).text
    for words in ("Vic Viewer", world.viewer.email, "Pellmoor Fire Protection", "Orvane Assurance"):
        assert words in page
    assert "Tam Technician" not in page  # the contractor's people are the contractor's


def test_a_shared_package_stands_in_the_log_with_who_gave_the_address(led, world):
    package = _package(world)
    link, _secret = share_package(
        package=package, label="Insurer", days=3, made_by=world.owner, now=timezone.now()
    )
    led.post(reverse("reports:package-unshare", args=[package.uuid, link.pk]))
    page = log_of(led, world.owner_organisation)
    assert "“Insurer” got the address" in page and "for “Insurer” was closed" in page
    assert AccessEntry.objects.filter(subject="package", by=world.owner).count() == 2
