"""What the recurring work and the impairments of a feed rest on, as a digest that costs little.

To say that nothing changed, none of the entries need be made: the database writes each row they
rest on as text, a system at a time, and the text is hashed. It is more than they show (the head of
each ledger for all that is recorded), so that equal digests mean equal entries, while others may
still mean the same ones; those are then made and compared.
"""

import hashlib
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import (
    Aggregate,
    F,
    Func,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    TextField,
    Value,
)

from registry.atmosphere_rows.system_ledger import PROTECTING
from registry.models import ProtectionSpan, Record
from registry.models.querysets import protection_now
from scheduling.calendars.program import edition, rules_of
from scheduling.calendars.scope import systems_of
from scheduling.models import FeedToken, Occurrence
from scheduling.models.querysets import SHOWN_AFTER_CLOSING
from scheduling.recurrence import local_day

AT_ONCE = 2000
AT_MOST = timedelta(days=1)


class RowText(Func):
    """The values of a row as one text, no two rows alike."""

    function = "JSON_ARRAY"
    output_field = TextField()

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return self.as_sql(compiler, connection, template="ROW(%(expressions)s)::text", **context)


class Joined(Aggregate):
    """The texts of a group, one behind the other."""

    function = "GROUP_CONCAT"
    output_field = TextField()

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        template = "STRING_AGG(%(expressions)s, ',' ORDER BY %(expressions)s)"
        return self.as_sql(compiler, connection, template=template, **context)


OF_SYSTEM = (
    "pk", "uuid", "tag", "kind", "open_rows", "next_sequence", "head_hash",
    "building__name", "site__name", "site__address", "site__time_zone",
)  # fmt: skip
OF_WORK = (
    "uuid", "due_on", "opens_on", "closes_on", "status", "planned_at", "settled_at", "record_id",
    "item__key", "item__title", "item__group", "item__area_id", "item__interval", "item__before",
    "item__after", "item__anchor", "item__first_due", "item__since", "item__last_done_on",
    "item__asked_by", "item__note", "item__is_active",
)  # fmt: skip


class Beat(NamedTuple):
    """Equal facts and revisions mean equal entries; the revisions stand apart, since writing
    entries may revise them."""

    facts: bytes
    revisions: bytes

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.facts + self.revisions).hexdigest()


class Pulse:
    """Of one feed at one moment."""

    def __init__(self, token: FeedToken, now: datetime):
        self.token, self.now = token, now

    def beat(self) -> Beat:
        """One question of the database."""
        facts = hashlib.sha256(f"{edition()} {self.token.horizon_days}".encode())
        revisions, zones = hashlib.sha256(), set()
        for zone, turn, *shown in self._rows():
            zones.add(zone)
            facts.update("\0".join(text or "" for text in shown).encode())
            revisions.update(f"{turn};".encode())
        for zone in sorted(zones):
            facts.update(self._days(zone).encode())
        return Beat(facts.digest(), revisions.digest())

    def _rows(self) -> Iterator[Any]:
        """Zone, turn of revisions, and as texts system, protection and work, of each system."""
        span = protection_now("pk").annotate(
            shown=RowText("state", "state_since", "areas", "reason", "unanswered")
        )
        shown: dict[str, Any] = {
            "row": RowText(*OF_SYSTEM),
            "span": Subquery(span.values("shown")[:1]),
            "work": Subquery(self._work()) if self.token.with_recurring else Value(""),
        }
        rows = systems_of(self.token, self.now).order_by("pk")
        yield from rows.values_list(
            "site__time_zone", "calendar_turn__turn", *shown.values()
        ).iterator(AT_ONCE)

    def _work(self) -> QuerySet:
        rows = Occurrence.objects.on_calendars(self.now).filter(system=OuterRef("pk"))
        grouped = rows.order_by().values("system")
        return grouped.annotate(text=Joined(RowText(*map(F, OF_WORK)))).values("text")

    def _days(self, zone: str) -> str:
        """The rules of a zone, today there, and the day to which work is expected."""
        there = ZoneInfo(zone)
        until = self.now + timedelta(days=self.token.horizon_days)
        return f"{rules_of(zone)} {local_day(self.now, there)} {local_day(until, there)}"

    def holds_until(self) -> datetime:
        """When something shown for a while after it was over is next to be left out. All else that
        time alone changes does so when a day begins at a site, and is part of the facts."""
        since = self.now - SHOWN_AFTER_CLOSING
        systems = systems_of(self.token, self.now).order_by().values("pk")
        records = Record.objects.filter(system__in=systems, kind__in=PROTECTING)
        left = [
            _first(Occurrence.objects.filter(system__in=systems), "settled_at", since),
            _first(records, "occurred_at", since),
            _first(records, "superseded_by__recorded_at", since),
            _first(ProtectionSpan.objects.filter(system__in=systems), "starts_at", since),
        ]
        ends = [each + SHOWN_AFTER_CLOSING for each in left if each]
        return min(self.now + AT_MOST, *ends) if ends else self.now + AT_MOST


def _first(rows: QuerySet, moment: str, since: datetime) -> datetime | None:
    later = rows.order_by().filter(Q(**{f"{moment}__gt": since}))
    return later.aggregate(first=Min(moment))["first"]
