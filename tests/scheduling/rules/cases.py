"""For each rule a ledger that raises it, and the record that answers it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from registry import services
from registry.kinds import KINDS
from registry.models import System
from tests.factories import make_pipe_run, make_record, manager_of
from tests.scheduling.ledger import DAY, accept, head_break, read, unclear_drain_down

Deed = Callable[[System, datetime], object]


@dataclass(frozen=True)
class Case:
    raises: Deed
    answers: Deed


def _record(kind: str, days_ago: float, **details) -> Deed:
    """With “yes”, or the first choice, where the case says nothing of a question."""
    asked = {one.name: one.choices for one in KINDS[kind].fields if one.is_required}
    usual = {name: choices[0][0] for name, choices in asked.items() if choices}
    details = usual | details
    return lambda system, now: make_record(system, kind, now - days_ago * DAY, now=now, **details)


def _doubt(system, now):
    accept(system, now - 20 * DAY, now=now)
    read(system, now - 19 * DAY, 98.6, now=now)
    unclear_drain_down(system, now - DAY, now=now)


def _thin_wall(system, now):
    make_pipe_run(system, now=now)
    make_record(
        system, "reading.wall", now - DAY, now=now, wall_mm=0.9, run_role="cross_main",
        nominal_size="4",
    )  # fmt: skip


def _confirmed(system, now):
    """The ordinary event takes the place of what was told."""
    told = system.records.current().get(kind="event.told")
    details = {"form": "joint", "through": "unknown", "air_entered": "unknown"}
    services.record(
        system=system, kind="event.leak", occurred_at=told.occurred_at, now=now, details=details,
        recorded_by=manager_of(system.site), supersedes=told,
    )  # fmt: skip


_repair = _record("event.repair", 0.5, pipe_opened="yes", work="New length")
CASES: dict[str, Case] = {
    "aerated": Case(
        lambda system, now: head_break(system, now - DAY, now=now),
        lambda system, now: accept(system, now - DAY / 2, now=now),
    ),
    "in_doubt": Case(_doubt, lambda system, now: read(system, now - DAY / 2, 98.6, now=now)),
    "accepted": Case(
        lambda system, now: accept(system, now - DAY, now=now),
        lambda system, now: read(system, now, 98.6, now=now),
    ),
    "obstruction": Case(
        _record("event.leak", 1, form="pinhole"),
        _record("reading.obstruction", 0.5, finding="clear"),
    ),
    "told": Case(_record("event.told", 1, what="leak"), _confirmed),
    "leak_repair": Case(_record("event.leak", 1, form="joint"), _repair),
    "protection": Case(
        _record("event.valve_closed", 1, valve="CV-1", planned="emergency"),
        _record("event.impairment_end", 0.5),
    ),
    "thin_wall": Case(_thin_wall, _repair),
    "low_points": Case(
        _record("event.trip", 1, drained_after="no"),
        lambda system, now: unclear_drain_down(system, now - DAY / 2, now=now),
    ),
    "gas_supply": Case(_record("event.gas_loss", 1, to_gauge_pa=0.0), _repair),
    "leak_search": Case(
        _record("reading.leak_down", 1, start_gauge_pa=3e5, end_gauge_pa=2.5e5, duration_s=7200.0),
        _record("reading.leak_down", 0.5, start_gauge_pa=3e5, end_gauge_pa=3e5, duration_s=7200.0),
    ),
}
