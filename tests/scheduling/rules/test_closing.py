"""How a follow-up ends, as a table: done by which record, or withdrawn and on whose account."""

from datetime import UTC, datetime, timedelta

import pytest

from scheduling.rules import work_of
from scheduling.rules.closing import Closing, OpenTask, closing
from scheduling.rules.types import Line

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
BEFORE = Line(1, "inerting.accepted", NOON - DAY, 1)
ACCEPTED = Line(2, "inerting.accepted", NOON + 2 * DAY, 2)
READING = Line(3, "reading.gas", NOON + DAY, 3)
LATER_READING = Line(4, "reading.gas", NOON + 3 * DAY, 4)


def order(**changes):
    return OpenTask(
        **{
            "work": work_of("reinerting_order"),
            "counts_from": NOON,
            "cause_id": 9,
            "has_cause": True,
            **changes,
        }
    )


def reading(**changes):
    return order(work=work_of("confirming_reading"), **changes)


def end(standing, *lines, state="inert"):
    return closing(
        standing,
        lines,
        state=state,
        reason="The valve tripped.",
        reason_record_id=77,
        corrected_by_id=88,
    )


OVERTAKEN = Closing("withdrawn", 77, "No longer needed. The valve tripped.")


@pytest.mark.parametrize(
    ("standing", "lines", "state", "expected"),
    [
        pytest.param(
            order(), [READING, ACCEPTED], "inert", Closing("done", 2, ""), id="an accepted run"
        ),
        pytest.param(
            order(),
            [READING, LATER_READING],
            "inert",
            Closing("done", 4, ""),
            id="a reading that proved the pipe inert",
        ),
        pytest.param(
            order(),
            [READING],
            "in_doubt",
            OVERTAKEN,
            id="a reading proves nothing while in doubt",
        ),
        pytest.param(order(), [BEFORE], "inert", OVERTAKEN, id="a run before the cause"),
        pytest.param(
            reading(), [READING, ACCEPTED], "inert", Closing("done", 3, ""), id="the first reading"
        ),
        pytest.param(
            reading(), [ACCEPTED], "inert", Closing("done", 2, ""), id="acceptance is a reading"
        ),
        pytest.param(reading(), [BEFORE], "aerated", OVERTAKEN, id="overtaken by an event"),
        pytest.param(
            reading(cause_id=3), [READING], "in_doubt", OVERTAKEN, id="no record answers itself"
        ),
    ],
)
def test_closing(standing, lines, state, expected):
    assert end(standing, *lines, state=state) == expected


@pytest.mark.parametrize("standing", [order(has_cause=False), reading(has_cause=False)])
def test_what_was_corrected_away_is_withdrawn_even_if_it_was_answered(standing):
    ended = end(standing, READING, ACCEPTED)
    assert (ended.status, ended.record_id) == ("withdrawn", 88)
