"""Batches as they might be: made inert, vented, drained, of thicker wall, of another history.

Each takes columns and gives columns, so that the same change is made to one system as to many.
What is not changed stays as it was, also what is expected of the future.
"""

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, Final, TypeVar

import numpy as np

from registry.corrosion.assumptions import joined_assumptions
from registry.corrosion.attack import attack_of
from registry.corrosion.batch import Batch, Flags, SpanTable, WaterTable, first_run_of
from registry.corrosion.history import INERT_OXYGEN
from registry.corrosion.timeline import Index, segment_bounds
from registry.corrosion.types import Array, Real, plain

PURE_MAKEUP: Final = 0.005
"""Oxygen in make-up gas of 99.5 % nitrogen."""

TABLES: Final = ("runs", "spans", "water", "walls", "coupons", "leaks")


def inert_now(batch: Batch, *, after_yr: float = 0.0) -> Batch:
    """Made inert so many years from now, and kept so; open pipe cannot be."""
    s = batch.systems
    when = np.where(s.is_open, np.inf, s.now_yr + after_yr)
    return replace(batch, systems=replace(s, inert_from_yr=when))


def always_inert(batch: Batch) -> Batch:
    """The ledger with every gas at 98 % nitrogen or better, but in open pipe."""
    most = np.where(batch.systems.is_open[batch.spans.system], 1.0, INERT_OXYGEN)
    spans = replace(
        batch.spans,
        oxygen=np.minimum(batch.spans.oxygen, most),
        makeup_oxygen=np.minimum(batch.spans.makeup_oxygen, most),
    )
    return replace(with_its_own_future(batch), spans=spans)


def with_its_own_future(batch: Batch) -> Batch:
    """Fixes what is expected, so that another past does not change the future as well."""
    s = batch.systems
    given = ~np.isnan(s.future_oxygen) | s.has_pools
    latest = of_last_span(batch, batch.spans.oxygen, np.nan)
    future = np.where(given, s.future_oxygen, latest)
    return replace(batch, systems=replace(s, future_oxygen=future))


def clean_before_register(batch: Batch) -> Batch:
    """Assumed history with 98 % nitrogen in place of what is assumed, but in open pipe."""
    s, assumed = batch.systems, batch.assumptions
    follows_ledger = _has_spans(batch) & ~s.has_pools
    is_set = ~np.isnan(s.future_oxygen) | follows_ledger
    future = np.where(is_set, s.future_oxygen, assumed.unknown_oxygen)
    return replace(
        batch,
        systems=replace(s, future_oxygen=future),
        assumptions=assumed.with_number("unknown_oxygen", _inert_where_closed(batch)),
    )


def _inert_where_closed(batch: Batch) -> Real:
    inert = np.minimum(np.asarray(batch.assumptions.unknown_oxygen), INERT_OXYGEN)
    if not batch.systems.is_open.any():
        return plain(inert)
    return np.where(batch.systems.is_open, batch.assumptions.unknown_oxygen, inert)


def drained_or_vented(batch: Batch) -> Batch:
    """No standing water in gas-filled pipe, working vents on water-filled pipe."""
    s, r = batch.systems, batch.runs
    runs = replace(r, wetted=np.where(s.has_pools[r.system], 0.0, r.wetted))
    return replace(batch, runs=runs, systems=replace(s, is_vented=s.is_vented | ~s.has_pools))


def with_thicker_wall(batch: Batch) -> Batch:
    """The same pipe of Schedule 40, where that is thicker."""
    r = batch.runs
    bore = r.bore_m - 2.0 * (r.thick_wall_m - r.wall_m)
    runs = replace(r, bore_m=bore, wall_m=r.thick_wall_m, joint_wall_m=r.thick_joint_wall_m)
    return replace(batch, runs=runs)


def without_joint_loss(batch: Batch) -> Batch:
    return replace(batch, runs=replace(batch.runs, joint_wall_m=batch.runs.wall_m))


def with_purer_supply(batch: Batch) -> Batch:
    """Make-up of 99.5 % nitrogen from now on."""
    makeup = of_last_span(batch, batch.spans.makeup_oxygen, PURE_MAKEUP)
    return with_supply(batch, np.minimum(makeup, PURE_MAKEUP))


def with_supply(batch: Batch, makeup: Real) -> Batch:
    """Make-up of this oxygen fraction from now on, at the rate of the latest span."""
    chosen = np.flatnonzero(_has_spans(batch))
    when = batch.systems.now_yr
    first, _ = first_run_of(batch)  # pools share the gas of their system
    oxygen = attack_of(batch).exposure.oxygen_at(first[chosen], when[chosen])
    turnover = of_last_span(batch, batch.spans.turnover_per_yr, 0.0)[chosen]
    supplied = np.broadcast_to(np.asarray(makeup, dtype=np.float64), batch.size)[chosen]
    spans = _with_last_spans(
        batch.spans, chosen, when[chosen], oxygen=oxygen, makeup=supplied, turnover=turnover
    )
    return replace(batch, spans=spans)


def with_new_runs(batch: Batch, runs: Sequence[int]) -> Batch:
    """Some runs (rows) replaced today by new pipe of the same size."""
    rows = np.asarray(runs, dtype=np.intp)
    installed = batch.runs.installed_yr.copy()
    installed[rows] = batch.systems.now_yr[batch.runs.system[rows]]
    return replace(batch, runs=replace(batch.runs, installed_yr=installed))


def with_treated_water(batch: Batch) -> Batch:
    """Flushed and treated today: what is left of attack without oxygen from then on."""
    s = batch.systems
    factor = s.site_factor * np.asarray(batch.assumptions.treated_share)
    return replace(batch, systems=replace(s, site_factor=factor))


SAME_FILL: Final = 1.0 / 365.25
"""Years within which water that came is that of the fill which trapped the gas."""


def without_span(batch: Batch, row: int) -> Batch:
    """History without one span: what was before it goes on. The first has assumed history before.

    The unknown stretch would reach to the next span, so a first span is replaced by inert gas. Its
    water did not come either.
    """
    spans, water = batch.spans, batch.water
    owner, start = spans.system[row], spans.start_yr[row]
    if row == 0 or owner != spans.system[row - 1]:
        oxygen = spans.oxygen.copy()
        oxygen[row] = min(oxygen[row], INERT_OXYGEN)
        return replace(batch, spans=replace(spans, oxygen=oxygen))
    came = (water.system == owner) & (np.abs(water.at_yr - start) < SAME_FILL)
    columns = (getattr(water, item.name)[~came] for item in fields(water))
    kept = _span_rows(spans, np.arange(spans.system.size) != row)
    return replace(batch, spans=kept, water=WaterTable(*columns))


def of_last_span(batch: Batch, column: Array, otherwise: float) -> Array:
    """Value of each system's latest span, or another where there is none."""
    first, count = segment_bounds(batch.spans.system, batch.size)
    found = np.full(batch.size, otherwise, dtype=np.float64)
    has = count > 0
    found[has] = column[(first + count - 1)[has]]
    return found


def _has_spans(batch: Batch) -> Flags:
    _, count = segment_bounds(batch.spans.system, batch.size)
    has: Flags = count > 0
    return has


def _with_last_spans(
    spans: SpanTable, system: Index, start: Array, *, oxygen: Array, makeup: Array, turnover: Array
) -> SpanTable:
    """One more row at the end of those of each `system`, which ascend."""
    at = np.searchsorted(spans.system, system, side="right")
    return SpanTable(
        system=np.insert(spans.system, at, system),
        start_yr=np.insert(spans.start_yr, at, start),
        oxygen=np.insert(spans.oxygen, at, oxygen),
        makeup_oxygen=np.insert(spans.makeup_oxygen, at, makeup),
        turnover_per_yr=np.insert(spans.turnover_per_yr, at, turnover),
    )


def _span_rows(spans: SpanTable, rows: Flags) -> SpanTable:
    if rows.all():
        return spans
    return SpanTable(*(getattr(spans, item.name)[rows] for item in fields(spans)))


def joined(batches: Sequence[Batch]) -> Batch:
    """One batch of all their systems, in order."""
    if len(batches) == 1:
        return batches[0]
    sizes = [batch.size for batch in batches]
    base = np.concatenate(([0], np.cumsum(sizes)))
    runs = np.concatenate(([0], np.cumsum([batch.runs.system.size for batch in batches])))
    tables: dict[str, Any] = {
        name: _stacked([getattr(batch, name) for batch in batches], base, runs) for name in TABLES
    }
    return Batch(
        systems=_stacked([batch.systems for batch in batches], base, runs),
        assumptions=joined_assumptions([batch.assumptions for batch in batches], sizes),
        **tables,
    )


Table = TypeVar("Table")


def _stacked(tables: Sequence[Table], base: Index, runs: Index) -> Table:
    columns = {}
    for item in fields(tables[0]):  # type: ignore[arg-type]
        parts = [getattr(table, item.name) for table in tables]
        if item.name == "system":
            parts = [part + begin for part, begin in zip(parts, base[:-1], strict=True)]
        elif item.name == "run":
            moved = zip(parts, runs[:-1], strict=True)
            parts = [np.where(part >= 0, part + begin, -1) for part, begin in moved]
        columns[item.name] = np.concatenate(parts)
    return type(tables[0])(**columns)
