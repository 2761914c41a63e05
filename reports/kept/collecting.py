"""The rows of a report of many systems, without words: each kind read once, when asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.utils.translation import gettext

from registry.models import Organisation, Site, User
from registry.strip import Mark, Size, build_strip, strip_svg_for_pdf
from reports.kept.asked import Asked
from reports.kept.changes import Bridge, Change, bridge_of, changes
from reports.kept.checking import LedgerVerdict, verdict_of
from reports.kept.lateness import Late, late
from reports.kept.measures import EventCostRow, Help, event_cost_rows, helps
from reports.kept.money_source import Money, money_of
from reports.kept.standing import Standing, standings
from reports.kept.unknown import Unknown, unknowns
from reports.printing import NO_LINE_AT_THE_END, STRIP_YEARS, TYPEFACE

STRIPS = 3
STRIP = Size(680, 16, has_axis=True, has_letters=True)


@dataclass(frozen=True)
class Collected:
    """The rows of a report, each kind read once when it is first asked for."""

    keys: Sequence[int]
    asked: Asked
    reader: User | None
    now: datetime
    site: Site | None = None
    chosen_by: str = ""
    owners: Sequence[Organisation] = ()

    @cached_property
    def rows(self) -> list[Standing]:
        """The highest score first, those without one last."""
        found = standings(self.keys, until=self.asked.until, learnt_by=self.asked.learnt_by)
        return sorted(found, key=lambda one: (-(one.score or -1.0), one.system.tag))

    @cached_property
    def changes(self) -> list[Change]:
        """Those that moved, the most points first."""
        asked = self.asked
        found = changes(self.rows, since=asked.since_end, learnt_by=asked.learnt_by)
        return sorted(found, key=lambda one: (-abs(one.points), one.now.system.tag))

    @cached_property
    def bridge(self) -> Bridge:
        return bridge_of(self.changes)

    @cached_property
    def events(self) -> list[EventCostRow]:
        return event_cost_rows(self.rows, since=self.asked.since_end, reader=self.reader)

    @cached_property
    def late(self) -> list[Late]:
        return late({row.system.pk: row.system for row in self.rows}, self.asked)

    @cached_property
    def helps(self) -> list[Help]:
        return helps(self.rows)

    @cached_property
    def unknowns(self) -> list[Unknown]:
        return unknowns(self.rows)

    @cached_property
    def money(self) -> Money:
        return money_of([row.system for row in self.rows])

    @cached_property
    def verdict(self) -> LedgerVerdict:
        return verdict_of(self.keys, now=self.now)

    @cached_property
    def strips(self) -> dict[int, str]:
        """The two years that led to that day, of the worst."""
        scored = [row for row in self.rows if row.score is not None and row.spans]
        return {row.system.pk: _strip(row) for row in scored[:STRIPS]}

    @property
    def called_site(self) -> Site | None:
        """The site under the name and with the facts of the day."""
        return self.rows[0].system.site if self.site and self.rows else self.site

    @property
    def called_owners(self) -> Sequence[Organisation]:
        """Each once, under the name of the day."""
        then = {row.system.site.owner_id: row.system.site.owner for row in self.rows}
        return [then.get(owner.pk, owner) for owner in self.owners]

    @property
    def named_today(self) -> list[Organisation]:
        """Owners of whom the book holds no names and facts as of that day."""
        found = {
            row.system.site.owner_id: row.system.site.owner
            for row in self.rows
            if row.book.is_named_today
        }
        return sorted(found.values(), key=str)

    @property
    def units(self) -> str:
        return str(self.reader.display_units) if self.reader else "si"


def _strip(row: Standing) -> str:
    until = row.book.known_at
    marks = [
        Mark(item.occurred_at, item.kind, "")
        for item in row.book.records
        if item.occurred_at >= until - STRIP_YEARS
    ]
    drawn = build_strip(
        row.spans, marks, start=until - STRIP_YEARS, end=until, now=until + NO_LINE_AT_THE_END,
        size=STRIP, zone=row.system.site.zone,
    )  # fmt: skip
    return strip_svg_for_pdf(drawn, gettext("Atmosphere of the system"), font=TYPEFACE)
