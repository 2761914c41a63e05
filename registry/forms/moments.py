"""A moment read off a clock where the system stands; summer time skips and repeats hours."""

from datetime import UTC, datetime, tzinfo
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.words.spoken import Spoken

WRITE_LIKE = _("Write it like 2026-05-31 14:30.")
EARLIER, LATER = "earlier", "later"
LONGEST_HELD_MS = 366 * 24 * 3600 * 1000


def held_field() -> forms.IntegerField:
    """For how long a phone held an entry back: it was made so much earlier than it came."""
    return forms.IntegerField(
        required=False, min_value=0, max_value=LONGEST_HELD_MS, widget=forms.HiddenInput
    )


def moments(local: datetime, zone: tzinfo) -> list[datetime]:
    """The instants at which a clock in the zone shows this: one, none in a gap, two in a fold."""
    read = {local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    return sorted(at for at in read if at.astimezone(zone).replace(tzinfo=None, fold=0) == local)


class LocalMomentField(forms.Field):
    """Cleans to an aware datetime. `which` settles an hour that the clocks showed twice."""

    widget = forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"})

    def __init__(self, *, zone: tzinfo, which: str = "", **kwargs: Any):
        super().__init__(**kwargs)
        self.zone, self.which = zone, which

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime):
            return value.astimezone(self.zone).strftime("%Y-%m-%dT%H:%M")
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        return self.prepare_value(initial) != (data or "").strip().replace(" ", "T")

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values or not str(value).strip():
            return None
        typed = self.read(str(value))
        if typed.tzinfo:
            return typed.astimezone(UTC)
        found = moments(typed, self.zone)
        if not found:
            raise ValidationError(_skipped(typed, self.zone), code="skipped")
        if len(found) == 2 and self.which not in (EARLIER, LATER):
            raise ValidationError(_repeated(typed), code="repeated")
        return found[-1] if self.which == LATER else found[0]

    def read(self, text: str) -> datetime:
        try:
            typed = parse_datetime(text.strip())
        except ValueError:
            typed = None
        if typed is None or not 1900 <= typed.year <= 2200:
            raise ValidationError(
                gettext("“{text}” is not a date with a time. {WRITE_LIKE}").format(
                    text=text[:40], WRITE_LIKE=WRITE_LIKE
                ),
                code="invalid",
            )
        return typed

    def repeats(self, text: str) -> list[tuple[str, str]]:
        """The two answers to “which of the two?”, or nothing when the time was shown once."""
        try:
            typed = self.read(text)
        except ValidationError:
            return []
        found = moments(typed, self.zone) if typed.tzinfo is None else []
        if len(found) != 2:
            return []
        first, second = (_zone_words(at.astimezone(self.zone)) for at in found)
        return [
            (EARLIER, gettext("The first time ({first})").format(first=first)),
            (LATER, gettext("The second time ({second})").format(second=second)),
        ]


def _zone_words(at: datetime) -> str:
    offset = at.strftime("%z")
    return f"{at.tzname()}, UTC{offset[:3]}:{offset[3:]}"


def _skipped(typed: datetime, zone: tzinfo) -> str:
    around = sorted(
        typed.replace(tzinfo=zone, fold=fold).astimezone(UTC).astimezone(zone) for fold in (0, 1)
    )
    before, after = (f"{at:%H:%M}" for at in around)
    return gettext(
        "No clock there showed {typed:%H:%M} on {day} {typed:%B %Y}: the clocks "
        "went forward. Write {before} or {after}, whichever was meant."
    ).format(typed=Spoken(typed), day=typed.day, before=before, after=after)


def _repeated(typed: datetime) -> str:
    return gettext(
        "The clocks there showed {typed:%H:%M} twice on {day} {typed:%B %Y}, as "
        "they went back. Say below which of the two it was."
    ).format(typed=Spoken(typed), day=typed.day)
