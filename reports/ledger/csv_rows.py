"""CSV of the ledger: the rows of the page, streamed, safe to open in a spreadsheet.

The file begins with a byte order mark, without which spreadsheet programs misread names with
accents; `utf-8-sig` reads it. `body` is the text that the hash covers: SHA-256 over previous hash,
line feed and body gives hash. `check` says on each row whether it does, and whether the ledger of
its system was found to hold, so that no part of a broken ledger travels unmarked. `protection` is
what held after the record, as the book stands now; empty where the record changed nothing of it.

A book may have millions of records, so rows are made from columns, a block at a time; memory does
not grow with their number. That they say what the page says is held by a test.
"""

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.http import StreamingHttpResponse
from django.utils.translation import gettext, override

from registry.atmosphere_rows.system_ledger import PROTECTING
from registry.chain import canonical_json, text_hash
from registry.kinds import KINDS
from registry.models import ProtectionSpan, System, User
from registry.owner_ledger import Names
from registry.pages.ledger_lines import protection_words
from registry.proof.cells import BYTE_ORDER_MARK, csv_lines, csv_text, quoted, safe_cell
from registry.services.stored_records import (
    StoredRecord,
    blocks,
    instant,
    stored_body,
    stored_text,
    there,
    utc_text,
)
from registry.words.details import answers
from reports.ledger.page import end_of, standing_words

LEDGER_COLUMNS = (
    "site", "system", "number", "kind", "record", "happened", "happened_utc", "recorded",
    "recorded_utc", "recorded_by", "recorded_by_id", "said", "note", "protection", "standing",
    "supersedes", "superseded_by", "previous_hash", "hash", "head_of_ledger", "body", "check",
)  # fmt: skip
HASHES = re.compile("(?:[0-9a-f]{64})?,(?:[0-9a-f]{64})?,(?:[0-9a-f]{64})?").fullmatch
Protection = tuple[str, datetime, str]
"""A state, and since when."""
Protected = Mapping[tuple[int, str], Protection]
"""By system and instant, as `utc_text` writes it."""
MOST_KEPT = 20_000
"""Systems, people and answers that are remembered from one block to the next."""


def csv_response(
    name: str, columns: Iterable[str], lines: Iterable[Iterable]
) -> StreamingHttpResponse:
    return attached(name, csv_lines(columns, lines))


def attached(name: str, text: Iterator[str]) -> StreamingHttpResponse:
    response = StreamingHttpResponse(text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@dataclass(frozen=True)
class OfSystem:
    """What each row of a system repeats."""

    site: str
    tag: str
    id: str
    head: str
    owner: int
    time_zone: str
    differs: str


@dataclass(frozen=True)
class OfPerson:
    person: User
    id: str
    names: dict[int, str | None] = field(default_factory=dict)
    """By owner; None where the name was changed, so that it matters when."""


@dataclass
class LedgerExport:
    """`differing` has the first thing that does not hold, by the key of the system. As of a `day`
    nothing is told of protection, which later records may have changed."""

    records: QuerySet
    units: str
    day: date | None = None
    differing: Mapping[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.systems: dict[int, OfSystem] = {}
        self.people: dict[int, OfPerson] = {}
        self.names: dict[int, Names] = {}
        self.kinds: dict[str, str] = {}
        self.told = lru_cache(MOST_KEPT)(self._told)
        self.standing = lru_cache(MOST_KEPT)(standing_words)  # needs no quotes
        self.protection = lru_cache(MOST_KEPT)(_protection)
        self.fits = ""

    def text(self) -> Iterator[str]:
        """The file, many rows at a time: each piece that is handed on has its price."""
        yield f"{BYTE_ORDER_MARK}{','.join(LEDGER_COLUMNS)}\r\n"
        for block in blocks(self.records):
            with override(None):  # English as the code has it: no catalogue is asked for a word
                piece = "".join(self._lines(block))
            yield piece

    def _lines(self, block: Sequence[StoredRecord]) -> Iterator[str]:
        self._meet(block)
        protected: Protected = {} if self.day else _protected(block)
        return (self._line(row, protected) for row in block)

    def _meet(self, block: Sequence[StoredRecord]) -> None:
        """Reads the systems and people of a block that are not known yet."""
        for known in (self.systems, self.people):
            if len(known) > MOST_KEPT:
                known.clear()
        wanted = {row.system_id for row in block} - self.systems.keys()
        for key, site, tag, uuid, head, owner, zone in System.objects.filter(
            pk__in=wanted
        ).values_list(
            "pk", "site__name", "tag", "uuid", "head_hash", "site__owner", "site__time_zone"
        ):
            self.systems[key] = OfSystem(
                _words(site), _words(tag), str(uuid), head, owner, zone,
                self.differing.get(key, ""),
            )  # fmt: skip
        unmet = {row.recorded_by_id for row in block} - self.people.keys()
        for person in User.objects.filter(pk__in=unmet):
            self.people[person.pk] = OfPerson(person, str(person.uuid))

    def _line(self, row: StoredRecord, protected: Protected) -> str:
        system, person = self.systems[row.system_id], self.people[row.recorded_by_id]
        occurred, recorded = utc_text(row.occurred_at), utc_text(row.recorded_at)
        later_kind, later = self._later(row, system)
        details, said = self.told(row.kind, row.details)
        body = stored_body(
            row, details=details, system=system.id, recorded_by=person.id, occurred=occurred,
            recorded=recorded,
        )  # fmt: skip
        supersedes = "" if row.supersedes_sequence is None else row.supersedes_sequence
        held = protected.get((row.system_id, occurred)) if protected else None
        protection = self.protection(held, system.time_zone) if held and _tells(row) else ""
        hashes = f"{row.previous_hash},{row.hash},{system.head}"
        if not HASHES(hashes):  # somebody wrote something else there
            hashes = ",".join(map(csv_text, (row.previous_hash, row.hash, system.head)))
        return (
            f"{system.site},{system.tag},{row.sequence},{self._kind(row.kind)},"
            f"{there(occurred, system.time_zone)},{occurred[:19]}Z,"
            f"{there(recorded, system.time_zone)},{recorded[:19]}Z,"
            f"{self._name(person, system.owner, recorded)},{person.id},"
            f"{said},{_words(row.note) if row.note else ''},{protection},"
            f"{self.standing(row.kind, later_kind, later)},{supersedes},{later or ''},"
            f"{hashes},{quoted(body)},{self._check(row, body, system.differs)}\r\n"
        )

    def _told(self, kind: str, stored: str) -> tuple[str, str]:
        """Details as a hash covers them, and what they say; most rows answer as others did."""
        details = json.loads(stored)
        try:
            covered = canonical_json(details)
        except ValueError:  # a number that no record can hold: nothing fits its hash
            covered = stored
        if kind not in KINDS:
            return covered, ""
        told = answers(KINDS[kind], details, self.units, is_brief=True)
        return covered, _words("; ".join(map(str, told)))

    def _kind(self, kind: str) -> str:
        """Its code and its name."""
        if kind not in self.kinds:
            label = KINDS[kind].label if kind in KINDS else kind
            self.kinds[kind] = f"{_words(kind)},{_words(label)}"
        return self.kinds[kind]

    def _later(self, row: StoredRecord, system: OfSystem) -> tuple[str, int]:
        """Kind and number of what replaced it, if that was known on the day."""
        if row.later_kind is None or row.later_sequence is None or row.later_at is None:
            return "", 0
        if self.day and instant(utc_text(row.later_at)) > end_of(self.day, system.time_zone):
            return "", 0
        return row.later_kind, row.later_sequence

    def _name(self, of: OfPerson, owner: int, recorded: str) -> str:
        if owner not in self.names:
            self.names[owner] = Names(owner)
        if owner not in of.names:
            is_one = not self.names[owner].are_many(of.person)
            of.names[owner] = self._name_then(of, owner, recorded) if is_one else None
        name = of.names[owner]
        return self._name_then(of, owner, recorded) if name is None else name

    def _name_then(self, of: OfPerson, owner: int, recorded: str) -> str:
        return _words(self.names[owner].at(of.person, instant(recorded)))

    def _check(self, row: StoredRecord, body: str, differs: str) -> str:
        if text_hash(row.previous_hash, body) != row.hash:
            altered = gettext("DOES NOT HOLD: this record was altered after it was written.")
            return csv_text(altered)
        if differs:
            what = gettext("DOES NOT HOLD: the ledger of this system. {what}").format(what=differs)
            return csv_text(what)
        self.fits = self.fits or csv_text(gettext("The hash fits."))
        return self.fits


def _words(cell: object) -> str:
    """What somebody wrote, or may have written."""
    return csv_text(safe_cell(cell))


def _protected(block: Sequence[StoredRecord]) -> Protected:
    """Of the systems of a block, what began to hold when one of its records happened."""
    asked = [row for row in block if row.kind in PROTECTING and row.later_kind is None]
    if not asked:
        return {}
    times = [instant(utc_text(row.occurred_at)) for row in asked]
    spans = ProtectionSpan.objects.filter(
        system__in={row.system_id for row in asked},
        starts_at__range=(min(times), max(times)),
    ).values_list("system_id", stored_text("starts_at"), "state", "state_since", "unanswered")
    return {(system, utc_text(starts)): tuple(held) for system, starts, *held in spans}


def _tells(row: StoredRecord) -> bool:
    """Whether a record counts and its kind says something of protection."""
    return row.later_kind is None and row.kind in PROTECTING


def _protection(held: Protection, zone: str) -> str:
    return csv_text(protection_words(*held, ZoneInfo(zone)))
