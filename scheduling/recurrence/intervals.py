"""Lengths of calendar time, as a standard words them: 5 years, 3 months, 2 weeks."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, get_args

Unit = Literal["day", "week", "month", "quarter", "year"]
UNITS: tuple[Unit, ...] = get_args(Unit)
_MONTHS: dict[Unit, int] = {"month": 1, "quarter": 3, "year": 12}
_DAYS: dict[Unit, int] = {"day": 1, "week": 7}
_MEAN_MONTH_DAYS = 365.2425 / 12
_NAMES = {
    (1, "day"): "daily",
    (1, "week"): "weekly",
    (1, "month"): "monthly",
    (1, "quarter"): "quarterly",
    (3, "month"): "quarterly",
    (6, "month"): "every half year",
    (2, "quarter"): "every half year",
    (1, "year"): "yearly",
    (12, "month"): "yearly",
}
_WRITTEN = re.compile(r"\s*(\d{1,4})\s*(day|week|month|quarter|year)s?\s*")


def add_months(day: date, months: int) -> date:
    """The same day of another month, or that month's last day where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


@dataclass(frozen=True, slots=True)
class Interval:
    count: int
    unit: Unit

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise ValueError(f"unit “{self.unit}” is not one of {', '.join(UNITS)}")
        if self.count < 0:
            raise ValueError(f"count {self.count} is below 0")

    def after(self, day: date, times: int = 1) -> date:
        """`times` intervals after a day (before it when negative), counted in one stride: three
        months after 30 November are 28 February, six months after it 30 May."""
        if self.unit in _MONTHS:
            return add_months(day, _MONTHS[self.unit] * self.count * times)
        return day + timedelta(days=_DAYS[self.unit] * self.count * times)

    def before(self, day: date) -> date:
        return self.after(day, -1)

    @property
    def mean_days(self) -> float:
        """Length in days on average, to tell the shorter of two intervals."""
        if self.unit in _MONTHS:
            return _MONTHS[self.unit] * self.count * _MEAN_MONTH_DAYS
        return float(_DAYS[self.unit] * self.count)

    @property
    def text(self) -> str:
        """3 months, 1 year: as `parse_interval` reads it."""
        return f"{self.count} {self.unit}{'' if self.count == 1 else 's'}"

    @property
    def rhythm(self) -> str:
        """How often, in words: quarterly, every 5 years."""
        return _NAMES.get((self.count, self.unit), f"every {self.text}")


NO_TIME = Interval(0, "day")


def parse_interval(text: str) -> Interval:
    match = _WRITTEN.fullmatch(text.lower())
    if match is None:
        raise ValueError(
            f"“{text}” is not an interval; write a number and {', '.join(UNITS[:-1])} or year, "
            "for example 3 months or 5 years."
        )
    unit = next(unit for unit in UNITS if unit == match[2])
    return Interval(int(match[1]), unit)
