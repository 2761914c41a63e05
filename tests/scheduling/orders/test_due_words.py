"""When something is due, in words; days are those of the site."""

from datetime import UTC, datetime, timedelta

import pytest

from scheduling.models import Task
from scheduling.orders.due_words import due_words, group_of

DUE = datetime(2026, 6, 15, 21, tzinfo=UTC)  # 16:00 in Chicago
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def task(**facts):
    return Task(**{"due_at": DUE, "time_zone": "America/Chicago", **facts})


@pytest.mark.parametrize(
    ("now", "words", "is_late", "group"),
    [
        (DUE - 30 * DAY, "Due by 15 June 2026", False, "later"),
        (DUE - 8 * DAY, "Due by 15 June 2026", False, "later"),
        (DUE - 7 * DAY, "Due in 7 days", False, "soon"),
        (DUE - 30 * HOUR, "Due tomorrow", False, "soon"),
        (DUE - 4 * HOUR, "Due today", False, "soon"),
        (DUE, "Late since today", True, "overdue"),
        (DUE + 7 * HOUR, "Late since today", True, "overdue"),
        (DUE + 9 * HOUR, "1 day late", True, "overdue"),
        (DUE + 3 * DAY, "3 days late", True, "overdue"),
    ],
)
def test_due_in_words(now, words, is_late, group):
    said = due_words(task(), now)
    assert (said.text, said.is_late) == (words, is_late)
    assert group_of(task(), now) == group


def test_work_that_would_not_count_yet_says_from_when():
    opens_at = datetime(2026, 6, 10, 3, tzinfo=UTC)  # the evening of the 9th in Chicago
    assert due_words(task(opens_at=opens_at), opens_at - HOUR).text == "Window opens 9 June 2026"
    assert due_words(task(opens_at=opens_at), opens_at).text == "Due in 6 days"


def test_a_deadline_at_midnight_belongs_to_the_day_that_ends():
    midnight = datetime(2026, 6, 16, 5, tzinfo=UTC)
    assert f"{task(due_at=midnight).due_on}" == "2026-06-15"
