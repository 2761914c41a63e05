"""What nobody answered of an outage is not known, and stays so until somebody answers."""

import pytest

from registry.protection import derive, impairments
from registry.protection.safety import LEAVE, PLANNED, TOLD, WATCH
from tests.registry.atmosphere.ledgers import day, item
from tests.registry.protection.test_derive import (
    drained,
    head_break,
    leak,
    restored,
    started,
    tagged,
)

BOTH = {"told_all": "yes", "fire_watch": "yes"}


def answered(at, number=0, **answers):
    return item("event.impairment_answers", at, number, **answers)


def last(*items):
    return derive(day(0), [restored(1), *items])[-1]


NEVER_ANSWERED = {
    "a drain-down may have been planned": (drained(2), {PLANNED, TOLD, WATCH}),
    "planned work needs leave": (drained(2, planned="planned"), {LEAVE, TOLD, WATCH}),
    "an emergency waits for no leave": (drained(2, planned="emergency"), {TOLD, WATCH}),
    "a head does not break by plan": (head_break(2), {TOLD, WATCH}),
    "a leak that took it out": (leak(2, out_of_service="yes"), {TOLD, WATCH}),
    "a trip test is planned": (
        item("event.trip", 2, cause="test", drained_after="yes"),
        {LEAVE, TOLD, WATCH},
    ),
    "a trip that nobody explains": (
        item("event.trip", 2, cause="unknown", drained_after="yes"),
        {PLANNED, TOLD, WATCH},
    ),
    "a false trip": (item("event.trip", 2, cause="false", drained_after="yes"), {TOLD, WATCH}),
    "a closed valve": (item("event.valve_closed", 2, valve="CV-1"), {PLANNED, TOLD, WATCH}),
    "a run": (started(2), {LEAVE, TOLD, WATCH}),
    "“not known” is no answer": (
        item("event.head_break", 2, count=1, told_all="unknown"),
        {TOLD, WATCH},
    ),
    "those who were told are named": (tagged(2, told="Insurer", planned="emergency"), {WATCH}),
    "the measure is named": (tagged(2, measures="Guard", planned="emergency"), {TOLD}),
}


@pytest.mark.parametrize(("event", "missing"), NEVER_ANSWERED.values(), ids=NEVER_ANSWERED)
def test_what_nobody_answered_is_not_known(event, missing):
    span = last(event)
    assert span.state == "impaired"
    assert set(span.unanswered) == missing


def test_answers_with_the_event_leave_nothing_open():
    span = last(item("event.head_break", 2, count=1, **BOTH))
    assert span.unanswered == ()
    assert "fire watch" not in span.reason


def test_answers_that_come_later_close_the_questions_from_then_on():
    before, after = derive(day(0), [restored(1), drained(2), answered(3, planned="emergency")])[-2:]
    assert (before.starts_at, set(before.unanswered)) == (day(2), {PLANNED, TOLD, WATCH})
    assert (after.starts_at, set(after.unanswered)) == (day(3), {TOLD, WATCH})
    assert after.state_since == day(2)


def test_later_answers_take_the_place_of_earlier_ones():
    span = last(
        item("event.head_break", 2, count=1, **BOTH),
        answered(3, fire_watch="no"),
    )
    assert span.unanswered == ()
    assert "There is no fire watch." in span.reason


def test_an_answer_can_name_one_outage_of_several():
    items = [tagged(2, 5, planned="emergency"), tagged(3, 6, "Bay", planned="emergency")]
    one = last(*items, answered(4, 7, of="5", **BOTH))
    assert set(one.unanswered) == {TOLD, WATCH}
    every = last(*items, answered(4, 7, **BOTH))
    assert every.unanswered == ()


def test_an_answer_to_a_corrected_record_is_about_what_stands_for_it():
    items = [restored(1), tagged(2, 8, planned="emergency"), answered(4, 7, of="5", **BOTH)]
    (one,) = impairments(items, {5: 8})
    assert one.unanswered == ()


def test_answers_without_an_outage_change_nothing():
    assert last(answered(2, **BOTH)).state == "in_service"


def test_leave_that_was_refused_is_said_whenever_it_is_told():
    span = last(drained(2, planned="planned"), answered(3, leave="no"))
    assert "Begun without the owner's leave." in span.reason
    assert set(span.unanswered) == {TOLD, WATCH}


def test_once_restored_nothing_is_asked_any_more():
    assert last(drained(2), restored(3)).unanswered == ()
