"""Every kind of record x every way to tamper with a chain in the database: all are found."""

import pytest
from django.db import connection, transaction

from registry.kinds import KINDS
from registry.models import Record
from registry.services.ledger import append, lock
from registry.verifying.chains import check_chain
from registry.verifying.loading import chunks, load, one_instant
from tests.factories import NOW, make_system
from tests.kept import Kept


def make_ledger(world):
    """One record of each kind between others; what they say does not matter to a chain."""
    system = make_system(world.site, world.owner, tag="NQ-9")
    locked = lock(system)
    for kind in [*KINDS, "event.observation"]:
        append(
            system=locked, now=NOW, kind=kind, occurred_at=NOW, details={"text": kind, "n": 1.5},
            recorded_by=world.owner, note="as seen",
        )  # fmt: skip
    return system


KEPT = Kept(make_ledger)


@pytest.fixture
def ledger(world):
    return KEPT(world)


def found(system) -> list[str]:
    (one,) = load([system.pk])
    return list(check_chain(one))


def sql(statement: str, *values) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        assert cursor.rowcount, "nothing was tampered with"


def _set(column: str, value):
    return lambda row, other: sql(
        f"UPDATE registry_record SET {column} = %s WHERE id = %s", value, row.pk
    )


def _delete(row, other):
    sql("DELETE FROM registry_record WHERE id = %s", row.pk)


def _insert(row, other):
    for later in Record.objects.filter(
        system=row.system, sequence__gte=row.sequence
    ).order_by("-sequence"):  # fmt: skip
        sql("UPDATE registry_record SET sequence = sequence + 1 WHERE id = %s", later.pk)
    Record.objects.create(
        system=row.system, sequence=row.sequence, kind=row.kind, occurred_at=NOW, recorded_at=NOW,
        recorded_by=row.recorded_by, previous_hash=row.previous_hash, hash="0" * 64,
    )  # fmt: skip


def _swap(row, other):
    """The two change numbers, and nothing else."""
    for pk, number in ((row.pk, 100_000), (other.pk, row.sequence), (row.pk, other.sequence)):
        sql("UPDATE registry_record SET sequence = %s WHERE id = %s", number, pk)


def _swap_words(row, other):
    """The two change what they say; numbers and hashes stay."""
    for pk, said in ((row.pk, other), (other.pk, row)):
        Record.objects.filter(pk=pk).update(details={**said.details, "n": 2}, kind=said.kind)


def _double(row, other):
    """The next record is put in the place of this one and stays where it is too."""
    Record.objects.filter(pk=row.pk).update(
        details=other.details, kind=other.kind, previous_hash=other.previous_hash, hash=other.hash
    )


def _redo_one_hash(row, other):
    """Changed, and its own hash worked out again."""
    from registry.chain import record_hash
    from registry.services.ledger import record_body

    row.note = "rewritten"
    Record.objects.filter(pk=row.pk).update(
        note=row.note, hash=record_hash(row.previous_hash, record_body(row))
    )


ONE_RECORD = {
    "what it says": lambda row, other: Record.objects.filter(pk=row.pk).update(details={"n": 1.6}),
    "its note": _set("note", "another"),
    "its kind": _set("kind", "event.invented"),
    "when it happened": _set("occurred_at", "2020-01-01 00:00:00+00:00"),
    "when it was recorded": _set("recorded_at", "2020-01-01 00:00:00+00:00"),
    "its hash": _set("hash", "f" * 64),
    "its hash blanked": _set("hash", ""),
    "the hash before it": _set("previous_hash", "f" * 64),
    "its hash worked out again": _redo_one_hash,
    "deleted": _delete,
    "inserted before it": _insert,
    "swapped with the next": _swap,
    "words swapped with the next": _swap_words,
    "the next doubled": _double,
}


def test_an_untouched_ledger_of_every_kind_holds(ledger):
    assert found(ledger) == []
    assert {row.kind for row in ledger.records.all()} == set(KINDS)


@pytest.mark.parametrize("tampering", ONE_RECORD)
def test_of_every_kind_a_record_tampered_with_is_found(ledger, tampering):
    rows = list(ledger.records.order_by("sequence"))
    unseen = []
    for row, other in zip(rows[1:], [*rows[2:], rows[1]], strict=True):
        if other is rows[1]:
            break
        with transaction.atomic():
            ONE_RECORD[tampering](row, other)
            if not found(ledger):
                unseen.append(row.kind)
            transaction.set_rollback(True)
    assert unseen == []


def test_another_person_in_the_place_of_who_recorded_it_is_found(ledger, world):
    row = ledger.records.get(sequence=5)
    sql("UPDATE registry_record SET recorded_by_id = %s WHERE id = %s", world.viewer.pk, row.pk)
    assert found(ledger) == ["Record 5 was altered after it was written."]


def test_a_correction_made_up_or_taken_away_is_found(ledger):
    first, second = ledger.records.order_by("sequence")[3:5]
    Record.objects.filter(pk=second.pk).update(supersedes=first)
    assert found(ledger) == [f"Record {second.sequence} was altered after it was written."]


def test_a_record_moved_to_another_system_is_found_in_both(ledger, world):
    system = make_system(world.site, world.owner)
    last = ledger.records.order_by("-sequence").first()
    sql("UPDATE registry_record SET system_id = %s WHERE id = %s", system.pk, last.pk)
    assert found(ledger)
    assert found(system)


@pytest.mark.parametrize("count", [1, 2, 10])
def test_a_beginning_cut_off_is_found(ledger, count):
    sql("DELETE FROM registry_record WHERE system_id = %s AND sequence <= %s", ledger.pk, count)
    assert found(ledger)[0] == f"Record 1 is missing: number {count + 1} stands in its place."


def test_a_beginning_cut_off_and_the_rest_numbered_and_hashed_anew_is_found(ledger):
    """Even then: a ledger begins with the record that enters the system."""
    from registry.chain import record_hash
    from registry.services.ledger import record_body

    sql("DELETE FROM registry_record WHERE system_id = %s AND sequence = 1", ledger.pk)
    previous = ""
    for number, row in enumerate(ledger.records.order_by("sequence"), start=1):
        row.sequence, row.previous_hash = number, previous
        row.hash = previous = record_hash(previous, record_body(row))
        row.save()
    type(ledger).objects.filter(pk=ledger.pk).update(head_hash=previous, next_sequence=number + 1)
    assert found(ledger) == [
        "The ledger begins with a record that does not enter the system: its beginning was cut off."
    ]


@pytest.mark.parametrize("count", [1, 2, 10])
def test_an_end_cut_off_is_found(ledger, count):
    last = ledger.records.count() - count
    sql("DELETE FROM registry_record WHERE system_id = %s AND sequence > %s", ledger.pk, last)
    assert len(found(ledger)) == 2


def test_a_head_moved_back_is_found(ledger):
    earlier = ledger.records.order_by("-sequence")[3]
    sql("UPDATE registry_system SET head_hash = %s WHERE id = %s", earlier.hash, ledger.pk)
    assert len(found(ledger)) == 1
    sql("UPDATE registry_system SET next_sequence = next_sequence - 4 WHERE id = %s", ledger.pk)
    assert len(found(ledger)) == 2


@pytest.mark.parametrize("is_head_too", [False, True])
def test_a_blanked_chain_is_found(ledger, is_head_too):
    sql("DELETE FROM registry_record WHERE system_id = %s", ledger.pk)
    if is_head_too:
        sql(
            "UPDATE registry_system SET head_hash = '', next_sequence = 1 WHERE id = %s", ledger.pk
        )  # fmt: skip
    assert found(ledger)[0].startswith("The ledger is empty.")


def test_a_chain_whose_hashes_were_blanked_is_found(ledger):
    sql("UPDATE registry_record SET hash = '', previous_hash = '' WHERE system_id = %s", ledger.pk)
    sql("UPDATE registry_system SET head_hash = '' WHERE id = %s", ledger.pk)
    assert len(found(ledger)) >= ledger.records.count()


def test_a_system_renamed_by_its_identity_is_found(ledger):
    type(ledger).objects.filter(pk=ledger.pk).update(uuid="12345678123456781234567812345678")
    assert len(found(ledger)) == ledger.records.count()


@pytest.mark.django_db(transaction=True)
def test_a_chunk_is_read_as_it_stood_at_one_instant():
    """In a transaction of its own, and one that PostgreSQL keeps from seeing later records."""
    from tests.factories import make_record, make_site

    system = make_system(make_site())
    (keys,) = chunks(type(system).objects.all())
    with one_instant():
        chunk = load(keys)
        assert connection.in_atomic_block
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SHOW transaction_isolation")
                assert cursor.fetchone() == ("repeatable read",)
        assert list(check_chain(chunk[0])) == []
    make_record(system, "event.observation", NOW, text="Later")
    assert found(system) == []
