"""What corrections, withdrawals and late entries do to follow-ups that were already raised."""

from itertools import permutations

import pytest

from registry import services as registry
from scheduling.models import Task
from tests.factories import NOW
from tests.scheduling.ledger import (
    COVERED,
    DAY,
    ORDER,
    accept,
    confirmations,
    fire,
    head_break,
    open_work,
    read,
    restore,
    unclear_drain_down,
)

pytestmark = pytest.mark.django_db


def test_withdrawing_the_event_withdraws_the_order(system, world):
    event = head_break(system, NOW - DAY)
    taken_back = registry.withdraw(
        record=event, reason="Wrong system", recorded_by=world.owner, now=NOW
    )
    order = Task.objects.get()
    assert (order.status, order.closed_by) == ("withdrawn", taken_back)
    assert order.closing_note.startswith("Withdrawn")


def test_withdrawing_one_of_two_causes_leaves_the_order_to_the_other(system, world):
    first = head_break(system, NOW - 3 * DAY)
    second = fire(system, NOW - 2 * DAY)
    uuid = Task.objects.get().uuid
    registry.withdraw(record=first, reason="Wrong system", recorded_by=world.owner, now=NOW)
    order = Task.objects.get()
    assert (order.status, order.cause, order.uuid) == ("open", second, uuid)
    assert not order.further_causes.exists()


def test_a_correction_that_clears_the_system_withdraws_what_the_mistake_raised(system, world):
    accept(system, NOW - 10 * DAY)
    drained = unclear_drain_down(system, NOW - 3 * DAY)
    correction = registry.record(
        system=system,
        kind="event.drain_down",
        occurred_at=drained.occurred_at,
        details=COVERED,
        recorded_by=world.owner,
        supersedes=drained,
        now=NOW,
    )
    doubt = system.tasks.get(rule="in_doubt")
    assert (doubt.status, doubt.closed_by) == ("withdrawn", correction)


def test_a_correction_that_still_aerates_keeps_the_order_and_counts_its_term_from_the_first_record(
    system, world
):
    event = head_break(system, NOW - 3 * DAY, now=NOW - 3 * DAY)
    before = Task.objects.get()
    corrected = registry.record(
        system=system,
        kind="event.head_break",
        occurred_at=event.occurred_at,
        details={"count": 2},
        recorded_by=world.owner,
        supersedes=event,
        now=NOW,
    )
    after = Task.objects.get()
    assert (after.cause, after.status) == (corrected, "open")
    assert after.uuid == before.uuid
    assert after.due_on <= (event.recorded_at + 14 * DAY).date()


def test_an_event_entered_late_that_a_run_has_answered_since_raises_nothing(system):
    accept(system, NOW - DAY)
    head_break(system, NOW - 5 * DAY)
    restore(system, NOW)
    assert open_work(system) == confirmations(1, 30, 365)


def test_an_earlier_cause_entered_late_joins_the_open_order(system):
    known = head_break(system, NOW - DAY)
    order = Task.objects.get()
    earlier = fire(system, NOW - 5 * DAY)
    after = Task.objects.get()
    assert after.uuid == order.uuid
    assert {after.cause, *after.further_causes.all()} == {known, earlier}


def test_withdrawing_the_reading_that_ended_a_doubt_opens_the_same_follow_up_again(system, world):
    accept(system, NOW - 10 * DAY)
    unclear_drain_down(system, NOW - 3 * DAY)
    reading = read(system, NOW - DAY, 98.4)
    closed = system.tasks.get(rule="in_doubt")
    registry.withdraw(record=reading, reason="Other system", recorded_by=world.owner, now=NOW)
    again = system.tasks.get(rule="in_doubt")
    assert (closed.status, again.status, again.uuid) == ("done", "open", closed.uuid)
    assert again.closed_at is None and again.closed_by is None


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_order_in_which_records_arrive_does_not_matter(system, order):
    happened = [
        lambda: accept(system, NOW - 20 * DAY),
        lambda: head_break(system, NOW - 10 * DAY),
        lambda: fire(system, NOW - 5 * DAY),
    ]
    for place in order:
        happened[place]()
    assert open_work(system) == [ORDER]
    order = system.tasks.open().get()
    causes = {order.cause, *order.further_causes.all()}
    assert {cause.kind for cause in causes} == {"event.head_break", "event.fire"}
