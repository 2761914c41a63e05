"""The owner's own ledger in the log, and the names that papers print: every tampering is found."""

import pytest
from django.urls import reverse

from registry.chain import record_hash
from registry.models import LogLeaf, OwnerLedger, OwnerLog, OwnerRecord, System
from registry.owner_ledger import body_of
from registry.services.log import make_checkpoint, number_records
from registry.services.owner_ledger import begin_ledger
from registry.verifying import differences, log_differences
from registry.verifying.owner import check_owner, names_of
from tests.factories import NOW
from tests.registry.verifying.test_chains import sql


@pytest.fixture
def logged(book, world):
    begin_ledger(world.owner_organisation, now=NOW)
    number_records(world.owner_organisation, now=NOW)
    make_checkpoint(world.owner_organisation, now=NOW)
    return book


def log_says() -> list[str]:
    return list(log_differences(OwnerLog.objects.all()))


def test_its_records_are_leaves_of_the_log(logged, world):
    log = world.owner_organisation.log
    rows = OwnerRecord.objects.count()
    leaves = LogLeaf.objects.filter(record=None)
    assert leaves.count() == rows == OwnerLog.objects.get(pk=log.pk).owner_records
    assert log_says() == []


def _redone():
    """One decision rewritten, with every hash after it and the head worked out anew."""
    ledger = OwnerLedger.objects.get()
    previous = ""
    for row in ledger.records.select_related("recorded_by", "ledger").order_by("sequence"):
        if row.subject == "site":
            row.facts["name"] = "South Quay"
        row.previous_hash = previous
        previous = row.hash = record_hash(previous, body_of(row))
        row.save()
    OwnerLedger.objects.update(head_hash=previous)
    sql("UPDATE registry_site SET name = 'South Quay' WHERE name = 'North Quay'")


TAMPERINGS = {
    "rewritten with all its hashes": _redone,
    "a leaf deleted": lambda: sql(
        "DELETE FROM registry_logleaf WHERE owner_record_id = "
        "(SELECT max(owner_record_id) FROM registry_logleaf)"
    ),
    "its count moved back": lambda: sql("UPDATE registry_ownerlog SET owner_records = 1"),
    "a leaf of another hash": lambda: sql(
        "UPDATE registry_logleaf SET hash = %s WHERE record_id IS NULL", "0" * 64
    ),
}


@pytest.mark.parametrize("name", TAMPERINGS)
def test_every_tampering_is_found_by_the_log(logged, world, name):
    TAMPERINGS[name]()
    assert log_says()


def test_a_ledger_rewritten_as_a_whole_looks_whole_without_its_log(logged, world):
    _redone()
    assert list(check_owner(world.owner_organisation)) == []


def test_the_database_lets_no_leaf_be_of_nothing(logged):
    from django.db import IntegrityError, transaction

    with pytest.raises(IntegrityError), transaction.atomic():
        sql("UPDATE registry_logleaf SET owner_record_id = NULL")


NAMES = {
    "a person": "UPDATE registry_user SET name = 'X' WHERE name = 'Tam Technician'",
    "the site": "UPDATE registry_site SET name = 'X' WHERE name = 'North Quay'",
    "the owner": "UPDATE registry_organisation SET name = 'X' WHERE kind = 'owner' AND id = "
    "(SELECT owner_id FROM registry_site WHERE name = 'North Quay')",
}


@pytest.mark.parametrize("name", NAMES)
def test_no_certificate_carries_a_name_that_was_changed_by_sql(logged, client, world, name):
    systems = System.objects.filter(pk=logged.system.pk)
    assert not [one.what for one in differences(systems, more=[names_of])]
    client.force_login(world.auditor)
    certificate = reverse("reports:certificate", args=[logged.run.pk])
    assert client.get(certificate).status_code == 200
    sql(NAMES[name])
    (what,) = (one.what for one in differences(systems, more=[names_of]))
    assert "for the name, and the owner's ledger says" in what
    assert client.get(certificate).status_code == 409
    csv = client.get(reverse("reports:ledger-csv", args=[logged.system.pk]))
    assert "DOES-NOT-HOLD" in csv["Content-Disposition"]
