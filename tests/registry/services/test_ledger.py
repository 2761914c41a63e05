"""Writing into a ledger: chained, checked, safe against a second try and a second person."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from registry.chain import verify
from registry.models import Fitting, Record
from registry.services import RecordError, add_fitting, amend_fitting, record, withdraw
from registry.services.ledger import append, links, lock
from registry.signals import record_added
from tests.factories import NOW, make_record, make_system

MAY = datetime(2026, 5, 3, 10, tzinfo=UTC)


def observe(system, by, text="A drip", at=MAY, **extra):
    return record(
        system=system,
        kind="event.observation",
        occurred_at=at,
        details={"text": text},
        recorded_by=by,
        **{"now": NOW, **extra},
    )


def test_records_are_chained_and_the_chain_verifies(system, owner):
    for number in range(3):
        observe(system, owner, text=f"Drip {number}")
    assert [link.sequence for link in links(system)] == [1, 2, 3, 4, 5]
    assert verify(links(system)) == []


def test_the_systems_head_is_the_hash_of_its_last_record(system, owner):
    last = observe(system, owner)
    system.refresh_from_db()
    assert system.head_hash == last.hash


@pytest.mark.parametrize(
    "change",
    [
        {"details": {"text": "Nothing seen"}},
        {"occurred_at": MAY - timedelta(days=1)},
        {"note": "added later"},
        {"kind": "event.fire"},
    ],
    ids=lambda change: next(iter(change)),
)
def test_a_record_changed_behind_the_books_back_is_found(system, owner, change):
    written = observe(system, owner)
    Record.objects.filter(pk=written.pk).update(**change)
    assert [problem.sequence for problem in verify(links(system))] == [written.sequence]


def test_numbers_survive_the_database_with_the_same_hash(system, owner):
    make_record(
        system, "reading.gas", MAY, owner, n2_percent=98.7, pressure_gauge_pa=206842.71879504
    )
    make_record(system, "reading.gas", MAY, owner, n2_percent=99.0, pressure_gauge_pa=1e-7)
    assert verify(links(system)) == []


def test_the_same_key_again_returns_the_first_record(system, owner):
    key = uuid.uuid4()
    first = observe(system, owner, client_key=key)
    again = observe(system, owner, client_key=key)
    assert again == first
    assert system.records.filter(kind="event.observation").count() == 1


@pytest.mark.parametrize(
    "other", [{"text": "Something else"}, {"note": "More of it"}, {"at": MAY + timedelta(hours=1)}]
)
def test_the_same_key_with_another_answer_is_never_passed_off_as_written(system, owner, other):
    key = uuid.uuid4()
    first = observe(system, owner, client_key=key)
    with pytest.raises(RecordError, match=f"as record {first.sequence}, with other answers"):
        observe(system, owner, client_key=key, **other)


def test_a_key_that_somebody_else_used_writes_nothing_in_their_name(system, owner, technician):
    key = uuid.uuid4()
    observe(system, owner, client_key=key)
    with pytest.raises(RecordError, match="was sent before"):
        observe(system, technician, client_key=key)


def test_two_people_recording_the_same_moment_are_both_kept(system, owner, technician):
    observe(system, owner, text="Olive saw it")
    observe(system, technician, text="Tam saw it")
    texts = {row.details["text"] for row in system.records.filter(kind="event.observation")}
    assert texts == {"Olive saw it", "Tam saw it"}


def test_a_record_of_the_future_is_refused(system, owner):
    with pytest.raises(RecordError) as error:
        observe(system, owner, at=NOW + timedelta(days=1))
    assert "in the future" in error.value.problems["occurred_at"]


def test_a_clock_a_few_minutes_fast_is_forgiven(system, owner):
    assert observe(system, owner, at=NOW + timedelta(minutes=4))


def test_record_refuses_a_date_before_installation(system, owner):
    with pytest.raises(RecordError) as error:
        observe(system, owner, at=datetime(1999, 1, 1, tzinfo=UTC))
    assert "before the system was installed" in error.value.problems["occurred_at"]


def test_a_time_without_a_zone_is_refused(system, owner):
    with pytest.raises(RecordError, match="needs a zone"):
        observe(system, owner, at=datetime(2026, 5, 3, 10))


def test_every_problem_is_told_at_once(system, owner):
    with pytest.raises(RecordError) as error:
        record(
            system=system, kind="event.trip", occurred_at=NOW + timedelta(days=9),
            details={}, recorded_by=owner, now=NOW,
        )  # fmt: skip
    assert {"kind", "occurred_at", "cause", "drained_after"} <= set(error.value.problems)


def test_a_correction_supersedes_and_both_stay_visible(system, owner):
    wrong = observe(system, owner, text="A flood")
    right = observe(system, owner, text="A drip", supersedes=wrong)
    wrong.refresh_from_db()
    assert wrong.superseded_by == right
    current = Record.objects.for_system(system).current()
    assert right in current
    assert wrong not in current
    assert verify(links(system)) == []


def test_a_second_correction_of_the_same_record_is_told_who_was_first(system, owner, technician):
    wrong = observe(system, owner)
    observe(system, technician, text="Better", supersedes=wrong)
    with pytest.raises(RecordError) as error:
        observe(system, owner, text="Best", supersedes=wrong)
    assert "Tam Technician already corrected" in error.value.problems["supersedes"]


def test_a_correction_cannot_reach_into_another_system(system, owner):
    other = make_system(system.site, owner)
    wrong = observe(system, owner)
    with pytest.raises(RecordError, match="same system"):
        observe(other, owner, supersedes=wrong)


def test_a_withdrawn_record_no_longer_counts_and_stays_readable(system, owner):
    mistake = observe(system, owner)
    taken_back = withdraw(record=mistake, reason="Wrong system", recorded_by=owner, now=NOW)
    current = set(Record.objects.for_system(system).current())
    assert mistake not in current
    assert taken_back not in current
    assert Record.objects.filter(pk=mistake.pk).exists()


def test_a_withdrawal_needs_a_reason(system, owner):
    from registry.kinds import DetailsError

    with pytest.raises(DetailsError, match="Reason"):
        withdraw(record=observe(system, owner), reason="  ", recorded_by=owner, now=NOW)


def test_as_of_reads_the_book_as_it_was_known_then(system, owner):
    wrong = observe(system, owner, text="A flood", now=NOW - timedelta(days=3))
    right = observe(system, owner, text="A drip", supersedes=wrong, now=NOW)
    then = set(Record.objects.for_system(system).as_of(NOW - timedelta(days=1)))
    today = set(Record.objects.for_system(system).as_of(NOW))
    assert wrong in then
    assert right not in then
    assert right in today
    assert wrong not in today


def test_a_listener_hears_of_the_record_inside_the_transaction(system, owner):
    heard = []

    def listen(record, **kwargs):
        heard.append((record.sequence, transaction.get_connection().in_atomic_block))

    record_added.connect(listen)
    try:
        written = observe(system, owner)
    finally:
        record_added.disconnect(listen)
    assert heard == [(written.sequence, True)]


@pytest.mark.django_db(transaction=True)
def test_the_database_itself_refuses_a_sequence_number_twice(system, owner):
    observe(system, owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        locked = lock(system)
        locked.next_sequence = 1
        append(
            system=locked, now=NOW, kind="event.observation", occurred_at=MAY,
            details={"text": "forged"}, recorded_by=owner,
        )  # fmt: skip


def test_of_two_who_change_a_fitting_the_second_changes_what_the_first_left(system, owner):
    fitting = add_fitting(system=system, recorded_by=owner, now=NOW, kind="vent", location="Roof")
    opened_before = Fitting.objects.get(pk=fitting.pk)
    amend_fitting(fitting=fitting, recorded_by=owner, now=NOW, location="Loft")
    amend_fitting(fitting=opened_before, recorded_by=owner, now=NOW, location="Cellar")
    change = system.records.last().details["fitting"]
    assert (change["from"]["location"], change["to"]["location"]) == ("Loft", "Cellar")
