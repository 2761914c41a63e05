"""Days as people type them, and the year alone where that is all anybody knows."""

import re
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from registry.imports.dates import read_date
from registry.imports.problems import CellError
from registry.models.systems import InstalledPrecision, installed_text

SPELLINGS = ("%Y-%m-%d", "%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y")
EARLIEST = 1850
DAY = InstalledPrecision.DAY.value
ONE_DAY = timedelta(days=1)


class DayInput(forms.DateInput):
    def __init__(self, attrs: dict[str, str] | None = None, **kwargs: Any):
        super().__init__(format="%Y-%m-%d", attrs={"type": "date", **(attrs or {})}, **kwargs)


class InstalledField(forms.CharField):
    """Cleans to a date and how exactly it is known; a year stands for its first day."""

    def __init__(self, **kwargs: Any):
        super().__init__(
            **{
                "label": gettext_lazy("Installed"),
                "max_length": 40,
                "help_text": gettext_lazy("A day, or just the year when no more is known."),
                **kwargs,
            }
        )
        self.widget.attrs["placeholder"] = gettext_lazy("for example 2004 or 2004-05-17")

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, tuple):
            return value
        day, precision = value
        return day.isoformat() if precision == DAY else installed_text(day, precision)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value)
        if not typed:
            return None
        if re.fullmatch(r"[0-9]{4}", typed):
            return _in_range(date(max(int(typed), 1), 1, 1), typed), InstalledPrecision.YEAR.value
        if span := _span(typed):
            return _in_range(span[0], typed), span[1]
        return _in_range(_day(typed), typed), DAY


def _span(typed: str) -> tuple[date, str] | None:
    """“May 2004”, “Q3 2011”, “about 1998”: as registers write them, and never a day."""
    try:
        found = read_date(typed, today=timezone.now().date())
    except CellError:
        return None
    return (found.on, str(found.precision)) if found.precision != DAY else None


def _day(typed: str) -> date:
    for spelling in SPELLINGS:
        try:
            return datetime.strptime(typed, spelling).date()
        except ValueError:
            continue
    doubt = (
        gettext("it could be two different days")
        if "/" in typed
        else gettext("it is not a day or a year")
    )
    raise ValidationError(
        gettext("“{typed}”: {doubt}. Write 2004-05-17, 17 May 2004 or 2004.").format(
            typed=typed, doubt=doubt
        )
    )


def _in_range(day: date, typed: str) -> date:
    if day.year < EARLIEST:
        raise ValidationError(
            gettext("“{typed}”: no sprinkler pipe is of that year. Write it like 2004.").format(
                typed=typed
            )
        )
    if day > timezone.now().date() + ONE_DAY:  # somewhere the day has begun before it did in UTC
        raise ValidationError(
            gettext("“{typed}” is still to come; the register holds what is there.").format(
                typed=typed
            )
        )
    return day


def day_words(day: date, precision: str) -> str:
    return installed_text(day, precision)
