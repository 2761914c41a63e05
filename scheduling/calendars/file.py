"""The calendar behind a feed's address: what its owner may see at this moment, and nothing else."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from scheduling.calendars.cache import CachedTexts
from scheduling.calendars.follow_ups import entry_of, publish
from scheduling.calendars.ics import CalendarEntry, Piece, bind, write
from scheduling.calendars.program import edition, rules_of
from scheduling.calendars.row_text import SHOWN
from scheduling.calendars.scope import other_entries
from scheduling.models import FeedToken, Task
from scheduling.models.querysets import TaskQuerySet

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


def tasks_of(token: FeedToken, now: datetime) -> TaskQuerySet:
    tasks = Task.objects.on_calendars(now).visible_to(token.user)
    narrow = {path: getattr(token, name) for name, path in PATHS.items() if getattr(token, name)}
    tasks = tasks if token.with_tasks else tasks.none()
    placed = tasks.filter(**narrow).with_place().with_protection().with_protection_text()
    return placed.order_by("starts_at", "pk")


def as_wanted(entry: CalendarEntry, token: FeedToken) -> CalendarEntry:
    """The entry with the alarm and the detail that this feed was made with."""
    entry = replace(entry, alarm_before=ALARMS[FeedToken.Alarm(token.alarm)])
    if token.detail == FeedToken.Detail.FULL:
        return entry
    return replace(
        entry,
        slot=replace(entry.slot, location=""),
        text=replace(entry.text, description="Open the link for place, reason and cautions."),
    )


class CalendarFile:
    """One feed's file at one moment, and the tag that tells it from every other.

    The tag is a digest of all that the file is made of: the text of each row (`SHOWN`), the feed's
    own wishes, the rules of the zones, the program. It is taken from the rows of which the file was
    written, and only once these are published, so that reading them again writes nothing. Equal
    tags therefore mean equal files, and a matching one is answered from a single query, without
    making a follow-up or a calendar of it. For the same reason an entry is written once and then
    remembered by its row.
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
        for key in (*self._keys.values(), *self._others):
            whole.update(key)
        return whole.hexdigest()

    def body(self) -> bytes:
        return bind(f"Riserbook: {self.token.label}", self._all_pieces)

    @property
    def modified_at(self) -> datetime:
        dates = (piece.modified_at for piece in self._all_pieces)
        return max(dates, default=self.token.created_at)

    @cached_property
    def _wishes(self) -> bytes:
        told = f"{edition()} {self.token.alarm} {self.token.detail}"
        return hashlib.sha256(told.encode()).digest()

    @cached_property
    def _rows(self) -> list[tuple[int, str, str]]:
        return list(tasks_of(self.token, self.now).values_list("pk", SHOWN, "time_zone"))

    @cached_property
    def _zones(self) -> set[str]:
        others = {entry.slot.time_zone for entry in self._others.values()}
        return others - {""} | {zone for _, _, zone in self._rows}

    @cached_property
    def _keys(self) -> dict[int, bytes]:
        return {pk: self._key(pk, shown) for pk, shown, _ in self._rows}

    def _key(self, pk: int, shown: str) -> bytes:
        return hashlib.sha256(self._wishes + f"{pk} {shown}".encode()).digest()

    @cached_property
    def _others(self) -> dict[bytes, CalendarEntry]:
        """Recurring work and impairments: few queries, and what is expected has no row to digest,
        so that each is known by all that it shows."""
        entries = (as_wanted(each, self.token) for each in other_entries(self.token, self.now))
        return {hashlib.sha256(repr(entry).encode()).digest(): entry for entry in entries}

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
        piece = write(as_wanted(entry_of(task), self.token))
        key = self._keys[task.pk] = self._key(task.pk, task.shown)
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
