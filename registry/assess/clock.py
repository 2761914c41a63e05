"""Instants as the physics counts them: Julian years from the start of the year 2000, UTC."""

from datetime import UTC, date, datetime, time, timedelta

ORIGIN = datetime(2000, 1, 1, tzinfo=UTC)
YEAR = timedelta(days=365.25)
MIDDLE_OF_YEAR = (7, 2)
# Days from the first of a span to its middle; “before” is taken at its word, the latest it can be.
TO_THE_MIDDLE = {"month": 15, "quarter": 45, "half": 91, "decade": 1826, "before": 0}


def years(when: datetime) -> float:
    return (when - ORIGIN) / YEAR


def moment(at_yr: float) -> datetime:
    return ORIGIN + at_yr * YEAR


def end_of(day: date) -> datetime:
    """A day is assessed at its end, so that everything that happened on it counts."""
    return datetime.combine(day + timedelta(days=1), time.min, tzinfo=UTC)


def day_of(when: datetime) -> date:
    return when.astimezone(UTC).date()


def installed_years(day: date, precision: str) -> float:
    """Pipe of which only a year, or another span, is known is taken to date from its middle."""
    if precision in ("year", "about"):
        day = day.replace(month=MIDDLE_OF_YEAR[0], day=MIDDLE_OF_YEAR[1])
    day += timedelta(days=TO_THE_MIDDLE.get(precision, 0))
    return years(datetime.combine(day, time.min, tzinfo=UTC))
