"""The calendar behind a feed's address: what its owner may see at this moment, and nothing else."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from registry.translation import in_english
from registry.words.spoken import language
from registry.words.told.retelling import retold
from scheduling.calendars.cache import CachedTexts
from scheduling.calendars.follow_ups import entry_of, publish
from scheduling.calendars.ics import CalendarEntry, Piece, bind, write
from scheduling.calendars.program import edition, rules_of
from scheduling.calendars.pulse import Beat, Pulse
from scheduling.calendars.row_text import SHOWN
from scheduling.calendars.scope import other_entries
from scheduling.calendars.tokens import remember, still_shows
from scheduling.models import FeedToken, Task
from scheduling.models.querysets import TaskQuerySet
from scheduling.recurrence import local_day

PATHS = {
    "site": "system__site",
    "building": "system__building",
    "system": "system",
    "contractor": "assigned_to",
    "crew": "crew",
}
ALARMS = {
    FeedToken.Alarm.NONE: None,
    FeedToken.Alarm.HOUR: timedelta(hours=1),
    FeedToken.Alarm.DAY: timedelta(days=1),
    FeedToken.Alarm.WEEK: timedelta(days=7),
}

AT_ONCE = 1000
PIECES: CachedTexts[bytes, Piece] = CachedTexts(most=20_000)


class Row(NamedTuple):
    """A follow-up as far as its key needs it."""

    pk: int
    shown: str
    time_zone: str
    due_at: datetime
    ends_at: datetime
    status: str


def lateness_key(row: Row, now: datetime) -> str:
    """What is overdue is shown anew with each day at its site, and once its booked time is over."""
    if row.status != Task.Status.OPEN or row.due_at > now:
        return ""
    return f"{local_day(now, ZoneInfo(row.time_zone))} {row.ends_at > now}"


def tasks_of(token: FeedToken, now: datetime) -> TaskQuerySet:
    tasks = Task.objects.on_calendars(now).visible_to(token.user)
    narrow = {path: getattr(token, name) for name, path in PATHS.items() if getattr(token, name)}
    tasks = tasks if token.with_tasks else tasks.none()
    placed = tasks.filter(**narrow).with_place().with_protection().with_protection_text()
    return placed.order_by("starts_at", "pk")


def as_wanted(entry: CalendarEntry, token: FeedToken) -> CalendarEntry:
    """The entry with the alarm and the detail that this feed was made with, in the language of
    its reader. Revisions are counted in English, so that no reader's language makes another's."""
    entry = replace(_told(entry), alarm_before=ALARMS[FeedToken.Alarm(token.alarm)])
    if token.detail == FeedToken.Detail.FULL:
        return entry
    return replace(
        entry,
        slot=replace(entry.slot, location=""),
        text=replace(
            entry.text, description=retold("Open the link for place, reason and cautions.")
        ),
    )


def _told(entry: CalendarEntry) -> CalendarEntry:
    text = entry.text
    summary, *tag = text.summary.rsplit(", ", 1)
    told = replace(
        text,
        summary=", ".join([retold(summary), *tag]),
        description=retold(text.description),
        categories=tuple(retold(category) for category in text.categories),
    )
    return replace(entry, text=told)


class CalendarFile:
    """One feed's file at one moment, and the tag that tells it from every other.

    The tag is a digest of all that the file is made of: the text of each follow-up's row (`SHOWN`),
    each other entry, the feed's own wishes, the rules of the zones, the program. It is taken from
    the rows of which the file was written, and only once these are published, so that reading them
    again writes nothing. Equal tags therefore mean equal files. For the same reason an entry is
    written once and then remembered by its row.

    A matching tag is answered without making an entry: follow-ups are known by their rows, and
    what was last found of the other entries holds while all that they rest on is the same
    (`Pulse`). The row of the feed keeps it, so that it is found once and not by every process.
    """

    def __init__(self, token: FeedToken, now: datetime):
        self.token, self.now = token, now

    @property
    def tag(self) -> str:
        """Asked before `body` it may be that of a file still to be published, which nobody has."""
        whole = hashlib.sha256(self._wishes)
        whole.update(self.token.label.encode())
        for zone in sorted(self._zones):
            whole.update(rules_of(zone).encode())
        for key in self._keys.values():
            whole.update(key)
        whole.update(self._digest_of_others.encode())
        return whole.hexdigest()

    def body(self) -> bytes:
        return bind(f"Riserbook: {self.token.label}", self._all_pieces)

    @property
    def modified_at(self) -> datetime:
        dates = (piece.modified_at for piece in self._all_pieces)
        return max(dates, default=self.token.created_at)

    @cached_property
    def _wishes(self) -> bytes:
        told = f"{edition()} {language()} {self.token.alarm} {self.token.detail}"
        return hashlib.sha256(told.encode()).digest()

    @cached_property
    def _rows(self) -> list[Row]:
        rows = tasks_of(self.token, self.now).values_list("pk", SHOWN, *Row._fields[2:])
        return [Row(*row) for row in rows]

    @cached_property
    def _zones(self) -> set[str]:
        return {row.time_zone for row in self._rows}

    @cached_property
    def _keys(self) -> dict[int, bytes]:
        return {row.pk: self._key(row) for row in self._rows}

    def _key(self, row: Row) -> bytes:
        told = f"{row.pk} {row.shown} {lateness_key(row, self.now)}"
        return hashlib.sha256(self._wishes + told.encode()).digest()

    @cached_property
    def _others(self) -> dict[bytes, CalendarEntry]:
        """Recurring work and impairments, each known by all that it shows."""
        with in_english():
            kept = list(other_entries(self.token, self.now))
        entries = (as_wanted(each, self.token) for each in kept)
        return {hashlib.sha256(repr(entry).encode()).digest(): entry for entry in entries}

    @cached_property
    def _digest_of_others(self) -> str:
        if not (self.token.with_recurring or self.token.with_impairments):
            return ""
        pulse = Pulse(self.token, self.now)
        beat = pulse.beat()
        if still_shows(self.token, beat.digest, self.now):
            return self.token.shows
        return self._found(pulse, beat)

    def _found(self, pulse: Pulse, before: Beat) -> str:
        """Made of the entries, and kept where nothing was changed while they were made, but for
        the revisions that making them may have stored."""
        shows = hashlib.sha256(self._wishes + b"".join(self._others))
        for zone in sorted({entry.slot.time_zone for entry in self._others.values()} - {""}):
            shows.update(rules_of(zone).encode())
        beat = pulse.beat()
        if beat.facts == before.facts:
            remember(
                self.token,
                rests_on=beat.digest,
                shows=shows.hexdigest(),
                shows_since=self.now,
                shows_until=pulse.holds_until(),
            )
        return shows.hexdigest()

    @property
    def _all_pieces(self) -> list[Piece]:
        return [*self._pieces, *(_kept(key, entry) for key, entry in self._others.items())]

    @cached_property
    def _pieces(self) -> list[Piece]:
        """Of every row, in order; those that are not remembered are read and written now."""
        found = {pk: PIECES.get(key) for pk, key in self._keys.items()}
        missing = [pk for pk, piece in found.items() if piece is None]
        for begin in range(0, len(missing), AT_ONCE):
            found |= self._written(missing[begin : begin + AT_ONCE])
        for pk in [pk for pk, piece in found.items() if piece is None]:
            del found[pk], self._keys[pk]  # gone since the rows were read
        return [piece for piece in found.values() if piece is not None]

    def _written(self, wanted: Sequence[int]) -> dict[int, Piece]:
        """A site may have moved or been renamed since its follow-ups were last revised; they are
        revised here before they are shown, so no reader can see a new place under an old SEQUENCE.
        What was revised is read again: only a row that needs no revision is what the file shows.
        """
        found: dict[int, Piece] = {}
        while wanted:
            rows = tasks_of(self.token, self.now).annotate(shown=SHOWN)
            tasks: list[Any] = list(rows.filter(pk__in=wanted))
            wanted = list(_revised(tasks, self.now))
            for task in tasks:
                if task.pk not in wanted:
                    found[task.pk] = self._remember(task)
        return found

    def _remember(self, task: Any) -> Piece:
        with in_english():
            entry = entry_of(task, self.now)
        piece = write(as_wanted(entry, self.token))
        row = Row(*(getattr(task, name) for name in Row._fields))
        key = self._keys[task.pk] = self._key(row)
        self._zones.add(task.time_zone)
        PIECES.put(key, piece)
        return piece


def _kept(key: bytes, entry: CalendarEntry) -> Piece:
    piece = PIECES.get(key) or write(entry)
    PIECES.put(key, piece)
    return piece


def _revised(tasks: Sequence[Task], now: datetime) -> Iterator[int]:
    """Publish them, and name those that were not as published."""
    before = [(task.slot_digest, task.text_digest) for task in tasks]
    publish(tasks, now)
    for task, was in zip(tasks, before, strict=True):
        if (task.slot_digest, task.text_digest) != was:
            yield task.pk
