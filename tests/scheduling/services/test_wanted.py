"""The owner wants pipe inert that never was: the order, its day, and how it ends."""

from datetime import date

import pytest

from registry import services as registry
from scheduling.models import Task
from tests.factories import NOW, make_record
from tests.scheduling.ledger import (
    DAY,
    DOUBT,
    ORDER,
    accept,
    confirmations,
    head_break,
    open_work,
    unclear_drain_down,
)

pytestmark = pytest.mark.django_db

FIRST = ("aerated", "First inerting order")


def want(system, owner, when=NOW - DAY, now=NOW, **details):
    return make_record(system, "request.inerting", when, owner, now=now, **details)


def test_the_wish_raises_an_order_to_the_contractor_within_the_days_of_the_rule(
    system, owner, world
):
    wish = want(system, owner)
    order = Task.objects.get()
    assert (order.title, order.kind) == (FIRST[1], "reinerting_order")
    assert (order.assigned_to, order.cause) == (world.contractor, wish)
    assert order.why.startswith("31 May 2026: Inerting wanted. Never inerted")
    assert "Waits for an accepted inerting run." in order.why
    assert order.due_on == (NOW + 14 * DAY).date()


def test_the_day_that_the_owner_names_is_the_day_it_is_due(system, owner):
    want(system, owner, wanted_by="2026-08-31")
    order = Task.objects.get()
    assert order.due_on == date(2026, 8, 31)
    assert order.due_because == "The owner wants it by 31 August 2026."


def test_another_day_moves_the_order_and_no_day_leaves_it_to_the_rule(system, owner):
    wish = want(system, owner, wanted_by="2026-08-31")
    for day, due_on in (("2026-07-31", date(2026, 7, 31)), (None, (NOW + 14 * DAY).date())):
        wish = registry.record(
            system=system, kind="request.inerting", occurred_at=wish.occurred_at,
            details={"wanted_by": day} if day else {}, recorded_by=owner, supersedes=wish, now=NOW,
        )  # fmt: skip
        order = Task.objects.get()
        assert (order.due_on, order.status) == (due_on, "open")


def test_a_wish_taken_back_takes_the_order_with_it(system, owner):
    wish = want(system, owner)
    registry.withdraw(record=wish, reason="Next year", recorded_by=owner, now=NOW)
    assert open_work(system) == []
    assert Task.objects.get().status == "withdrawn"


def test_the_accepted_run_closes_it_and_an_old_wish_raises_nothing_again(system, owner):
    want(system, owner, NOW - 9 * DAY)
    acceptance = accept(system, NOW - 8 * DAY)
    assert open_work(system) == confirmations(1, 30, 365)
    order = Task.objects.get(kind="reinerting_order")
    assert (order.status, order.closed_by) == ("done", acceptance)
    head_break(system, NOW - 7 * DAY)
    again = Task.objects.open().get()
    assert again.title == ORDER[1]
    assert again.further_causes.count() == 0


def test_an_event_before_the_run_joins_the_same_order(system, owner):
    want(system, owner, NOW - 3 * DAY, wanted_by="2026-08-31")
    first = Task.objects.get()
    head_break(system, NOW - DAY)
    order = Task.objects.open().get()
    assert (order.uuid, order.title) == (first.uuid, ORDER[1])
    assert order.due_on == date(2026, 8, 31)
    assert "Also: Inerting wanted, 29 May 2026." in order.why


def test_a_wish_while_the_pipe_is_inert_raises_no_order(system, owner):
    accept(system, NOW - 3 * DAY)
    want(system, owner)
    assert open_work(system) == confirmations(1, 30, 365)


def test_a_wish_while_the_pipe_is_in_doubt_leaves_the_word_to_the_reading(system, owner):
    accept(system, NOW - 3 * DAY)
    unclear_drain_down(system, NOW - 2 * DAY)
    want(system, owner)
    assert open_work(system) == sorted([DOUBT, *confirmations(1, 30, 365)])
