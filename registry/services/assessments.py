"""Assessments kept up with the ledger: stored when something changed, refreshed as time passes."""

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum, auto

from django.db import transaction

from registry.assess.books import CHUNK, Book, read_books
from registry.assess.cases import Case, case_of
from registry.assess.clock import day_of, end_of
from registry.assess.results import Assessed, assess_cases
from registry.atmosphere_rows.system_ledger import SystemLedger
from registry.corrosion.assumptions import MODEL_VERSION
from registry.models import Assessment, System
from registry.services.collecting import rare_collections
from registry.services.locking import lock_all
from registry.translation import in_english

log = logging.getLogger(__name__)

FOLLOWED = 500  # systems of one load that are assessed at once
_waiting: ContextVar[dict[int, datetime] | None] = ContextVar("systems_to_assess", default=None)


class Which(Enum):
    CHANGED = auto()  # what went in is not what went in last time, or a new month began
    DUE = auto()  # these, and those not assessed today
    ALL = auto()


@dataclass
class Tally:
    """How many systems; `left_out` have no pipe in the register, or were refused."""

    added: int = 0
    refreshed: int = 0
    unchanged: int = 0
    left_out: int = 0

    def __iadd__(self, other: "Tally") -> "Tally":
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self


def assess_system(system: System, now: datetime) -> Assessment | None:
    """Bring one system's assessment up to date and return it."""
    assess_systems(System.objects.filter(pk=system.pk), now)
    return Assessment.objects.latest().filter(system=system).first()


@in_english()
def assess_systems(
    systems,
    now: datetime,
    *,
    which: Which = Which.DUE,
    on_chunk: Callable[[int], None] | None = None,
) -> Tally:
    """Bring many up to date, chunk by chunk, each chunk in a transaction that holds its systems."""
    keys = list(systems.order_by("pk").values_list("pk", flat=True))
    total = Tally()
    with rare_collections():
        for begin in range(0, len(keys), CHUNK):
            chunk = keys[begin : begin + CHUNK]
            total += _assess_chunk(chunk, now, which)
            if on_chunk:
                on_chunk(len(chunk))
    return total


@in_english()
def follow_ledger(ledgers: Sequence[SystemLedger], now: datetime) -> None:
    """Assess systems whose records changed, and which the caller holds. A failure is logged, and
    never blocks the record."""
    in_order = sorted(ledgers, key=lambda one: one.system.pk)
    if (waiting := _waiting.get()) is not None:
        waiting |= {one.system.pk: now for one in in_order}
        return
    for begin in range(0, len(in_order), FOLLOWED):
        chunk = in_order[begin : begin + FOLLOWED]
        keys = [one.system.pk for one in chunk]
        try:
            with transaction.atomic():
                _assess_held(keys, now, Which.CHANGED, chunk)
        except Exception:
            log.exception("assess.failed systems=%s; the nightly run repeats it", keys)


@contextmanager
def assessed_at_the_end() -> Iterator[None]:
    """For what is told at one go, as a whole run is: each system once, as of its last record,
    not after each record. If it fails on the way, the nightly run assesses them."""
    waiting: dict[int, datetime] = {}
    token = _waiting.set(waiting)
    try:
        yield
    finally:
        _waiting.reset(token)
    for now in sorted(set(waiting.values())):
        keys = [key for key, last in waiting.items() if last == now]
        assess_systems(System.objects.filter(pk__in=keys), now, which=Which.CHANGED)


@transaction.atomic
def _assess_chunk(keys: Sequence[int], now: datetime, which: Which) -> Tally:
    lock_all(System.objects.filter(pk__in=keys))  # no record is written meanwhile
    return _assess_held(keys, now, which)


def _assess_held(
    keys: Sequence[int], now: datetime, which: Which, ledgers: Sequence[SystemLedger] = ()
) -> Tally:
    day = day_of(now)
    latest = _latest(keys)
    cases = _cases(read_books(keys, end_of(day), ledgers))
    stale = [case for case in cases if _is_stale(latest.get(case.book.system.pk), case, day, which)]
    tally = _store(assess_cases(stale), latest, day, now)
    tally.unchanged, tally.left_out = len(cases) - len(stale), len(keys) - len(cases)
    _retire(set(latest) - {case.book.system.pk for case in cases})
    return tally


def _latest(keys: Sequence[int]) -> dict[int, Assessment]:
    """What tells whether each latest row is still good; its numbers stay where they are."""
    rows = Assessment.objects.latest().filter(system__in=keys).order_by()
    return {row.system_id: row for row in rows.only("system", "as_of", "digest", "model_version")}


def _cases(books: Sequence[Book]) -> list[Case]:
    """One system the physics refuses is logged and left out; the others are assessed."""
    cases = []
    for book in books:
        try:
            case = case_of(book)
        except ValueError:
            log.exception("assess.refused system=%s", book.system.pk)
            continue
        if case:
            cases.append(case)
    return cases


def _is_stale(row: Assessment | None, case: Case, day: date, which: Which) -> bool:
    if row is None or which is Which.ALL or _is_another(row, case.digest, day):
        return True
    return which is Which.DUE and row.as_of != day


def _is_another(row: Assessment, digest: str, day: date) -> bool:
    """Whether a row of its own is due: something changed, or a new month began."""
    same_month = (row.as_of.year, row.as_of.month) == (day.year, day.month)
    return row.digest != digest or row.model_version != MODEL_VERSION or not same_month


def _store(found: list[Assessed], latest: dict[int, Assessment], day: date, now: datetime) -> Tally:
    added, refreshed = [], []
    for one in found:
        system = one.case.book.system
        row = Assessment(system=system, as_of=day, assessed_at=now, **one.values)
        old = latest.get(system.pk)
        if old and not _is_another(old, one.case.digest, day):
            row.pk = old.pk
            refreshed.append(row)
        else:
            added.append(row)
    _retire({row.system_id for row in added})
    Assessment.objects.bulk_create(added)
    # Rows that are there and held, so each of these "inserts" is an update; a bulk_update of as
    # many columns spends most of the time of a run on writing its statement.
    Assessment.objects.bulk_create(
        refreshed, update_conflicts=True, unique_fields=["id"], update_fields=REFRESHED
    )
    return Tally(added=len(added), refreshed=len(refreshed))


REFRESHED = [
    field.name
    for field in Assessment._meta.concrete_fields
    if field.name not in ("id", "system", "is_latest")
]


def _retire(systems: set[int]) -> None:
    """What was the latest no longer is; it stays in the book."""
    if systems:
        Assessment.objects.latest().filter(system__in=systems).update(is_latest=False)
