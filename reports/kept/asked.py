"""What a report was asked for: of which day, by what was known when, and since when."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.assess.clock import day_of, end_of
from registry.forms.days import DayInput
from reports.kept.words import day_words

USUALLY_SINCE = timedelta(days=365)


@dataclass(frozen=True)
class Asked:
    """`as_of`: what was true at the end of that day; `known_on`: as the book knew it at the end of
    that one, today where none was named; `since`: what it is compared with."""

    as_of: date
    since: date
    today: date
    known_on: date | None = None
    now: datetime | None = None

    @classmethod
    def of_today(cls, now: datetime, since: date | None = None) -> "Asked":
        today = day_of(now)
        return cls(today, since or today - USUALLY_SINCE, today, now=now)

    @property
    def until(self) -> datetime:
        return end_of(self.as_of)

    @property
    def since_end(self) -> datetime:
        return end_of(self.since)

    @property
    def learnt_by(self) -> datetime:
        return end_of(self.known_on or self.today)

    @property
    def is_of_now(self) -> bool:
        return self.as_of == self.today and self.known_on in (None, self.today)

    @property
    def words(self) -> str:
        """Both senses of time, as a reader has to know them."""
        if self.is_of_now:
            return gettext("As at the end of {day}, by what the book knows today.").format(
                day=day_words(self.as_of)
            )
        if self.known_on is None:
            return gettext(
                "As it was at the end of {day}, by what the book knows of that day today, {today}."
            ).format(day=day_words(self.as_of), today=day_words(self.today))
        return gettext(
            "As it was at the end of {day}, by what the book knew at the end of {known}."
        ).format(day=day_words(self.as_of), known=day_words(self.known_on))

    @property
    def query(self) -> dict[str, str]:
        asked = {"as_of": self.as_of.isoformat(), "since": self.since.isoformat()}
        return asked | ({"known_on": self.known_on.isoformat()} if self.known_on else {})


class AskedForm(forms.Form):
    """The days of a report, out of its address; every one may be left out."""

    as_of = forms.DateField(
        label=_("As at the end of"),
        required=False,
        widget=DayInput(),
        help_text=_("Empty: today. Days end by UTC, as those of an assessment do."),
    )
    known_on = forms.DateField(
        label=_("By what the book knew at the end of"),
        required=False,
        widget=DayInput(),
        help_text=_("Empty: by what it knows today."),
    )
    since = forms.DateField(
        label=_("Compared with the end of"),
        required=False,
        widget=DayInput(),
        help_text=_("Empty: a year before."),
    )

    def __init__(self, *args, now: datetime, **kwargs):
        super().__init__(*args, **kwargs)
        self.now, self.today = now, day_of(now)

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        as_of = answers.get("as_of") or self.today
        for name in ("as_of", "known_on"):
            if (day := answers.get(name)) and day > self.today:
                self.add_error(name, self._too_late())
        if (since := answers.get("since")) and since >= as_of and "as_of" not in self.errors:
            words = gettext("This day is not before {as_of}; give an earlier one.")
            self.add_error("since", words.format(as_of=day_words(as_of)))
        return answers

    def _too_late(self) -> str:
        words = gettext("This day has not come; give {today} or an earlier one.")
        return words.format(today=day_words(self.today))

    def asked(self) -> Asked:
        """Of a form that is valid."""
        answers = self.cleaned_data
        as_of = answers.get("as_of") or self.today
        since = answers.get("since") or as_of - USUALLY_SINCE
        return Asked(as_of, since, self.today, answers.get("known_on"), self.now)
