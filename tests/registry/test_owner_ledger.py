"""The owner's own ledger: what is written into it, what it said when, and every tampering."""

from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse

from registry.models import OwnerLedger, OwnerRecord
from registry.owner_ledger import facts_at
from registry.services import amend_site
from registry.services.owner_ledger import begin_ledger, begin_missing, note_changes
from registry.services.register.sites import save_building
from registry.verifying.owner import check_owner
from scheduling import recurring
from tests.factories import NOW, make_building, make_system
from tests.scheduling.recurring.test_replanning import asking_row
from tests.scheduling.recurring_world import adopt

LATER = NOW + timedelta(days=3)


def sql(statement: str, *values) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        assert cursor.rowcount, "nothing was tampered with"


@pytest.fixture
def owner_(world):
    """An owner with a bit of everything that its ledger is about."""
    make_building(world.site)
    make_system(world.site, world.owner, tag="NQ-7")
    adopt(world.site, world.owner)
    set_aside(world, is_used=True)
    begin_ledger(world.owner_organisation, now=NOW)
    return world.owner_organisation


def set_aside(world, *, is_used=False, now=NOW):
    cells = asking_row(world, "1 week") | {"is_used": is_used}
    return recurring.save_item(
        owner=world.owner_organisation, row="gauges-wet", cells=cells, changed_by=world.owner,
        now=now,
    )  # fmt: skip


def last(owner) -> OwnerRecord:
    return OwnerRecord.objects.filter(ledger__owner=owner).latest("sequence")


def test_it_begins_with_what_is_there_and_says_of_before_that_it_is_not_on_record(owner_):
    assert list(check_owner(owner_)) == []
    assert facts_at(owner_, NOW - timedelta(seconds=1)) is None
    subjects = {subject for subject, _key in facts_at(owner_, NOW)}
    assert {"site", "building", "contract", "audit access", "person", "role", "edition"} < subjects
    assert not OwnerRecord.objects.exclude(recorded_by=None).exists()


def test_nothing_is_written_before_it_has_begun(world):
    assert note_changes(world.owner_organisation, by=world.owner, now=NOW) == 0
    assert not OwnerLedger.objects.exists()
    assert begin_missing(NOW) == 2 and begin_missing(LATER) == 0


def test_a_site_that_is_renamed_keeps_its_name_of_before(owner_, world):
    amend_site(site=world.site, recorded_by=world.owner, now=LATER, name="North Quay Works")
    key = ("site", str(world.site.pk))
    assert facts_at(owner_, NOW)[key]["name"] == "North Quay"
    assert facts_at(owner_, LATER)[key]["name"] == "North Quay Works"
    row = last(owner_)
    assert (row.change, row.recorded_by) == ("changed", world.owner)
    assert list(check_owner(owner_)) == []


def test_what_was_set_aside_says_by_whom(owner_, world):
    set_aside(world, now=LATER)
    row = last(owner_)
    assert (row.subject, row.key, row.recorded_by) == ("item of work", "gauges-wet", world.owner)
    assert row.facts["is_used"] is False
    assert list(check_owner(owner_)) == []


def test_a_person_who_renames_herself_was_called_otherwise_before(client, owner_, world):
    client.force_login(world.owner)
    page = client.get(reverse("registry:account"))
    data = {name: page.context["form"][name].value() or "" for name in page.context["form"].fields}
    before = world.owner.name
    assert (
        client.post(reverse("registry:account"), data | {"name": "Ova Newname"}).status_code == 302
    )
    key = ("person", str(world.owner.uuid))
    assert facts_at(owner_, NOW)[key] == {"name": before}
    assert last(owner_).facts == {"name": "Ova Newname"}
    assert list(check_owner(owner_)) == []


def test_the_admin_writes_it_too(client, owner_, world):
    world.owner.is_staff = world.owner.is_superuser = True
    world.owner.save()
    access = owner_.audit_access_given.get()
    client.force_login(world.owner)
    client.post(reverse("admin:registry_auditaccess_delete", args=[access.pk]), {"post": "yes"})
    gone = OwnerRecord.objects.filter(ledger__owner=owner_, change="removed")
    assert "audit access" in set(gone.values_list("subject", flat=True))
    assert list(check_owner(owner_)) == []


def test_the_same_again_writes_nothing(owner_, world):
    count = OwnerRecord.objects.count()
    building = world.site.buildings.get()
    save_building(building=building, name=building.name, access_note=building.access_note)
    assert OwnerRecord.objects.count() == count


TAMPERINGS = {
    "a person is renamed": ("UPDATE registry_user SET name = 'X'", "Person:"),
    "the owner is renamed": ("UPDATE registry_organisation SET name = name || 'X'", "Owner:"),
    "a site is renamed": ("UPDATE registry_site SET name = 'X'", "Site:"),
    "a site's altitude": ("UPDATE registry_site SET altitude_m = 900", "altitude"),
    "a building is renamed": ("UPDATE registry_building SET name = 'X'", "Building:"),
    "a contract begins earlier": (
        "UPDATE registry_servicecontract SET starts_on = '2001-01-01'", "starts on",
    ),
    "a contract is gone": ("DELETE FROM registry_servicecontract", "Contract:"),
    "audit access is taken": ("DELETE FROM registry_auditaccess", "Audit access:"),
    "a reader becomes manager": (
        "UPDATE registry_membership SET role = 'manager' WHERE role = 'reader'", "Role:",
    ),
    "an edition is given up": (
        "UPDATE scheduling_adoptededition SET ended_at = adopted_at", "Edition:",
    ),
    "work is set aside": ("UPDATE scheduling_ownitem SET is_used = false", "Item of work:"),
    "work is restored": ("DELETE FROM scheduling_ownitem", "Item of work:"),
    "a record's facts":(
        "UPDATE registry_ownerrecord SET facts = '{}' WHERE sequence = 2", "record 2",
    ),
    "a record is cut out": (
        "DELETE FROM registry_ownerrecord WHERE sequence = 3", "does not follow",
    ),
    "the beginning is cut off": (
        "DELETE FROM registry_ownerrecord WHERE sequence = 1", "beginning",
    ),
    "the end is cut off": (
        "DELETE FROM registry_ownerrecord WHERE sequence = "
        "(SELECT next_sequence - 1 FROM registry_ownerledger)", "at the end",
    ),
    "all records are gone": ("DELETE FROM registry_ownerrecord", "are gone"),
    "the head is moved": ("UPDATE registry_ownerledger SET head_hash = 'x'", "head was changed"),
    "who recorded it": (
        "UPDATE registry_ownerrecord SET recorded_by_id = (SELECT min(id) FROM registry_user) "
        "WHERE sequence = 2", "record 2",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TAMPERINGS)
def test_every_tampering_is_found(owner_, name):
    statement, words = TAMPERINGS[name]
    sql(statement)
    found = list(check_owner(owner_))
    assert any(words in what for what in found), found


@pytest.fixture
def signed_in(client, world):
    client.force_login(world.auditor)
    return client


def test_a_schedule_says_what_is_set_aside_and_by_whom(signed_in, owner_, world):
    address = reverse("scheduling:schedule", args=[world.site.systems.get(tag="NQ-7").pk])
    assert "Not asked for here" not in signed_in.get(address).content.decode()
    title = set_aside(world, now=LATER).title
    page = signed_in.get(address).content.decode()
    assert "Not asked for here" in page and f"{title}: set aside" in page
    assert f"by {world.owner}" in page


def test_the_ledger_as_of_a_day_uses_the_name_and_the_decisions_of_that_day(
    signed_in, owner_, world
):
    amend_site(site=world.site, recorded_by=world.owner, now=LATER, name="North Quay Works")
    set_aside(world, now=LATER)
    ledger = reverse("reports:ledger", args=[world.site.systems.get(tag="NQ-7").pk])
    before, after, early = (
        signed_in.get(ledger, {"as_of": day}).content.decode()
        for day in ("2026-06-02", "2026-06-05", "2026-05-02")
    )
    assert "<dd>North Quay</dd>" in before and "<dd>North Quay Works</dd>" in after
    assert "<dd>none</dd>" in before and "<dd>none</dd>" not in after
    assert "begins later" in early
