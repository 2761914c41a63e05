"""Hours by weekday as people write them: “Mon-Fri 8:00-12:00, 13-16:30; Sat 9-12”. Pure."""

import re
from collections.abc import Mapping
from datetime import date, time

from django.utils.translation import gettext

from scheduling.crews.instance import Span

Hours = Mapping[int, tuple[Span, ...]]

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MIDNIGHT = 24 * 60
CLOSED = ("closed", "none", "away")
_DAY = r"[A-Za-z]{2,9}\.?"
_GROUP = re.compile(
    rf"\s*(?P<days>{_DAY}(?:\s*(?:-|–|to|,|and|&)\s*{_DAY})*)?\s*:?\s*(?P<spans>[^A-Za-z].*|closed|none|away)?\s*",
    re.IGNORECASE,
)
_SPAN = re.compile(
    r"\s*(\d{1,2})(?:[:.h](\d{2}))?\s*(?:-|–|to|until)\s*(\d{1,2})(?:[:.h](\d{2}))?\s*", re.I
)


class HoursError(ValueError):
    """Hours that cannot be read; the text says what would be right."""


def parse_hours(text: str) -> dict[int, tuple[Span, ...]]:
    """Open spans by weekday, 0 Monday, in whole minutes after midnight; empty text gives {}.

    Groups are parted by semicolons or lines; a group without days counts for every day; days that
    no group names are closed. Raises HoursError.
    """
    found: dict[int, tuple[Span, ...]] = {}
    for group in filter(None, map(str.strip, re.split(r"[;\n]", text))):
        days, spans = _group(group)
        for day in days:
            if day in found:
                raise HoursError(gettext("{day} is named twice.").format(day=DAYS[day]))
            found[day] = spans
    return {day: spans for day, spans in sorted(found.items()) if spans}


def _group(text: str) -> tuple[list[int], tuple[Span, ...]]:
    match = _GROUP.fullmatch(text)
    if not match or not (match["spans"] or match["days"]):
        raise HoursError(_unread(text))
    named, said = match["days"], match["spans"] or ""
    if named and named.strip().lower() in CLOSED:
        named, said = None, "closed"
    days = _days(named) if named else list(range(7))
    if said.strip().lower() in CLOSED:
        return days, ()
    if not said.strip():
        raise HoursError(_unread(text))
    spans = sorted(_span(part, text) for part in said.split(","))
    for one, two in zip(spans, spans[1:], strict=False):
        if two[0] < one[1]:
            raise HoursError(
                gettext("“{text}” names hours that overlap; write each once.").format(text=text)
            )
    return days, tuple(spans)


def _days(text: str) -> list[int]:
    days: list[int] = []
    for part in re.split(r",|&|\band\b", text):
        ends = [_day(name) for name in re.split(r"-|–|\bto\b", part) if name.strip()]
        if len(ends) == 2:
            length = (ends[1] - ends[0]) % 7
            days += [(ends[0] + number) % 7 for number in range(length + 1)]
        else:
            days += ends
    return sorted(set(days))


def _day(name: str) -> int:
    short = name.strip().rstrip(".")[:3].title()
    if short not in DAYS:
        raise HoursError(
            gettext("“{name}” is no day of the week; write Mon, Tue, Wed and so on.").format(
                name=name.strip()
            )
        )
    return DAYS.index(short)


def _span(text: str, group: str) -> Span:
    match = _SPAN.fullmatch(text)
    if not match:
        raise HoursError(_unread(group))
    begin, end = (int(h) * 60 + int(m or 0) for h, m in (match.groups()[:2], match.groups()[2:]))
    if begin >= end or end > MIDNIGHT or any(int(m or 0) > 59 for m in match.groups()[1::2]):
        raise HoursError(
            gettext(
                "“{text}” must end after it begins, on the same day; hours over midnight are two."
            ).format(text=text.strip())
        )
    return begin, end


def _unread(text: str) -> str:
    return gettext(
        "“{text}” cannot be read; write for example Mon-Fri 8:00-16:30; Sat 9-12."
    ).format(text=text)


def hours_text(hours: Hours) -> str:
    """The same in one spelling: days with equal hours together."""
    groups: list[tuple[list[int], tuple[Span, ...]]] = []
    for day in range(7):
        spans = tuple(hours.get(day, ()))
        if groups and groups[-1][1] == spans:
            groups[-1][0].append(day)
        else:
            groups.append(([day], spans))
    return "; ".join(
        f"{_named(days)} {', '.join(f'{at(a)}-{at(b)}' for a, b in spans)}"
        for days, spans in groups
        if spans
    )


def _named(days: list[int]) -> str:
    return DAYS[days[0]] if len(days) == 1 else f"{DAYS[days[0]]}-{DAYS[days[-1]]}"


def at(minute: int) -> str:
    """Minutes after midnight as a clock shows them; of the next day with a word."""
    clock = f"{minute // 60 % 24:02d}:{minute % 60:02d}"
    if minute < MIDNIGHT or minute == MIDNIGHT:
        return "24:00" if minute == MIDNIGHT else clock
    return gettext("{clock} of the next day").format(clock=clock)


def minute_of(when: time) -> int:
    return when.hour * 60 + when.minute


def parse_days_away(text: str) -> list[tuple[date, date]]:
    """Lines such as “2026-12-21 to 2026-12-31”, or one day alone. Raises HoursError."""
    found = []
    for line in filter(None, map(str.strip, text.splitlines())):
        parts = [part for part in re.split(r"\s+(?:to|until|-|–)\s+|\s+", line) if part]
        try:
            days = [date.fromisoformat(part) for part in parts]
        except ValueError:
            days = []
        if len(days) not in (1, 2) or days[0] > days[-1]:
            raise HoursError(
                gettext("“{line}” cannot be read; write 2026-12-21 to 2026-12-31.").format(
                    line=line
                )
            )
        found.append((days[0], days[-1]))
    return found


def parse_deliveries(text: str) -> dict[date, int]:
    """Lines such as “2026-12-01 12”: full cylinders there from that morning. Raises HoursError."""
    found: dict[date, int] = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        match = re.fullmatch(r"(\d{4}-\d{2}-\d{2})[\s,;:]+(\d{1,4})(?:\s+\w+)?", line)
        try:
            day = date.fromisoformat(match[1]) if match else None
        except ValueError:
            day = None
        if day is None or match is None:
            raise HoursError(
                gettext("“{line}” cannot be read; write a day and a number: 2026-12-01 12.").format(
                    line=line
                )
            )
        found[day] = found.get(day, 0) + int(match[2])
    return found


def parse_skills(text: str) -> frozenset[str]:
    """Words parted by commas, in small letters, so that “Confined Space” is “confined space”."""
    return frozenset(
        " ".join(part.lower().split()) for part in re.split(r"[,;\n]", text) if part.strip()
    )
