"""When a booking is refused, as a table, with the answer each refusal is about."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduling.rules.booking import Window, Wish, problems

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
WINDOW = Window(NOW + DAY, NOW + 7 * DAY, ZoneInfo("Europe/London"))
ANY_TIME = Window(None, NOW + 7 * DAY, ZoneInfo("Europe/London"))


def wish(from_now, length=2 * HOUR, reason=""):
    return Wish(NOW + from_now, NOW + from_now + length, reason)


@pytest.mark.parametrize(
    ("wished", "window", "fields"),
    [
        pytest.param(wish(2 * DAY), WINDOW, set(), id="within the window"),
        pytest.param(wish(-2 * DAY), ANY_TIME, {"day"}, id="past"),
        pytest.param(wish(-HOUR / 12), ANY_TIME, set(), id="five minutes ago is now"),
        pytest.param(wish(HOUR), WINDOW, {"day"}, id="before it counts"),
        pytest.param(wish(HOUR, reason="Only day"), WINDOW, {"day"}, id="no reason makes it count"),
        pytest.param(wish(7 * DAY), WINDOW, {"reason"}, id="late without a reason"),
        pytest.param(wish(7 * DAY, reason="  "), WINDOW, {"reason"}, id="late, an empty reason"),
        pytest.param(wish(7 * DAY, reason="No access"), WINDOW, set(), id="late with a reason"),
        pytest.param(wish(7 * DAY - 2 * HOUR), WINDOW, set(), id="ends just in time"),
        pytest.param(wish(2 * DAY, timedelta(0)), WINDOW, {"ends"}, id="no length"),
        pytest.param(wish(2 * DAY, -HOUR), WINDOW, {"ends"}, id="ends before it begins"),
        pytest.param(wish(2 * DAY, 25 * HOUR), WINDOW, {"ends"}, id="longer than a day"),
        pytest.param(wish(2 * DAY, HOUR / 6), WINDOW, {"ends"}, id="ten minutes"),
    ],
)
def test_problems(wished, window, fields):
    assert set(problems(wished, window, NOW)) == fields


def test_a_refusal_says_when_it_would_do_on_the_clock_of_the_site():
    assert "2 June 2026, 13:00" in problems(wish(HOUR), WINDOW, NOW)["day"]
    assert "8 June 2026, 13:00" in problems(wish(7 * DAY), WINDOW, NOW)["reason"]
