"""The rows of gas and of water that each run lived under: assumed, on record, and to come.

Between rows both follow dy/dt = L (y_s - y) - k y: supply turns the content over at L a year, the
pipe takes k a year. Fills and breaches that are only expected renew it at their yearly rate; the
mean over when they come follows the same equation, so past, ledger and future are rows of one sort.
"""

from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from registry.corrosion.batch import Batch
from registry.corrosion.exposure import Exposure, build_exposure, span_end
from registry.corrosion.timeline import Index, Timeline, segment_bounds, time_order
from registry.corrosion.types import Array, Real

INERT_OXYGEN: Final = 0.02
"""Oxygen left when a meter reads 98 % nitrogen."""


@dataclass(frozen=True)
class Rows:
    """What holds from `start_yr` on. `level` NaN: what the row before left, at most `most`."""

    system: Index
    start_yr: Array
    level: Array
    supplied: Array
    turnover: Array
    most: Array


def otherwise(given: Array, assumed: Real) -> Array:
    result: Array = np.where(np.isnan(given), assumed, given)
    return result


def gas_rows(batch: Batch) -> Rows:
    """Rows of the gas of every system, sorted by system and time."""
    s, spans = batch.systems, batch.spans
    timeline = Timeline.of(spans.system, spans.start_yr, batch.size)
    silent = _silent_supply(batch)
    assumed_until = np.where(timeline.count > 0, timeline.first_start, s.now_yr)
    begin = np.minimum(s.installed_yr, assumed_until)
    assumed = _of(batch, begin, _unknown_oxygen(batch), *silent)
    turnover = np.where(s.has_pools[spans.system], spans.turnover_per_yr, 0.0)
    renewals, renewed = _renewals(batch, timeline)
    supplied, total = _with_renewals(
        spans.makeup_oxygen, turnover, renewals[spans.system], renewed[spans.system]
    )
    is_ahead = spans.start_yr >= s.now_yr[spans.system]
    ledger = Rows(
        spans.system,
        spans.start_yr,
        spans.oxygen,
        np.where(is_ahead, supplied, spans.makeup_oxygen),
        np.where(is_ahead, total, turnover),
        np.ones(spans.system.size),
    )
    kept = spans.start_yr <= s.inert_from_yr[spans.system]
    held, held_turnover = _in_force(batch, timeline, turnover)
    ahead = _of(batch, s.now_yr, np.nan, *_with_renewals(held, held_turnover, renewals, renewed))
    made = np.isfinite(s.inert_from_yr)
    inert = _of(
        batch,
        s.inert_from_yr,
        np.nan,
        *_with_renewals(
            np.minimum(held, INERT_OXYGEN),
            held_turnover,
            renewals,
            np.minimum(renewed, INERT_OXYGEN),
        ),
        most=INERT_OXYGEN,
    )
    return _sorted([assumed, _kept(ledger, kept), ahead, _kept(inert, made)])


def _unknown_oxygen(batch: Batch) -> Array:
    return np.broadcast_to(np.asarray(batch.assumptions.unknown_oxygen, np.float64), batch.size)


def _silent_supply(batch: Batch) -> tuple[Array, Array]:
    """What is assumed to supply the pipe before its ledger: fills, or make-up gas."""
    a = batch.assumptions
    rate = np.where(
        batch.systems.has_pools, a.unknown_turnover_per_year, a.unknown_fills_per_year
    ).astype(np.float64)
    return _unknown_oxygen(batch), rate


def _renewals(batch: Batch, timeline: Timeline) -> tuple[Array, Array]:
    """Fills or breaches to expect a year, and the oxygen they bring."""
    s, a = batch.systems, batch.assumptions
    usual = np.where(s.has_pools, a.future_breaches_dry, a.future_fills_wet).astype(np.float64)
    latest = _of_last(timeline, batch.spans.oxygen, a.unknown_oxygen)
    oxygen = np.where(s.has_pools, a.unknown_oxygen, latest)
    return otherwise(s.future_fills, usual), otherwise(s.future_oxygen, oxygen)


def _in_force(batch: Batch, timeline: Timeline, turnover: Array) -> tuple[Array, Array]:
    """Supply that holds now: of the ledger, or in gas-filled pipe as assumed before it."""
    s = batch.systems
    supplied, rate = _silent_supply(batch)
    rate = np.where(s.has_pools, rate, 0.0)
    if batch.spans.system.size:
        row, inside = timeline.locate(slice(None), s.now_yr)
        supplied = np.where(inside, batch.spans.makeup_oxygen[row], supplied)
        rate = np.where(inside, turnover[row], rate)
    return supplied, rate


def _of_last(timeline: Timeline, column: Array, assumed: Real) -> Array:
    last = column[timeline.last] if column.size else np.zeros(timeline.last.size)
    return np.where(timeline.count > 0, last, assumed)


def _with_renewals(
    supplied: Array, turnover: Array, renewals: Array, renewed: Array
) -> tuple[Array, Array]:
    """Supply and turnover of both together. A breach never lets in better gas than the supply."""
    brought = np.where(turnover > 0, np.maximum(renewed, supplied), renewed)
    total = turnover + renewals
    mixed = (turnover * supplied + renewals * brought) / np.maximum(total, 1e-300)
    return np.where(total > 0, mixed, 0.0), total


def _of(
    batch: Batch, start: Array, level: Real, supplied: Array, turnover: Array, most: float = 1.0
) -> Rows:
    every = np.arange(batch.size)
    levels, caps = (np.broadcast_to(one, every.shape) for one in (level, most))
    return Rows(every, start, levels, supplied, turnover, caps)


def _kept(rows: Rows, which: np.ndarray) -> Rows:  # type: ignore[type-arg]
    if which.all():
        return rows
    return Rows(*(getattr(rows, item.name)[which] for item in fields(rows)))


def _sorted(parts: list[Rows]) -> Rows:
    """One table by system and time; of rows that begin at once the later part comes later."""
    both = Rows(
        *(np.concatenate([getattr(part, item.name) for part in parts]) for item in fields(Rows))
    )
    return _kept(both, time_order(both.system, both.start_yr))


def _per_run(rows: Rows, run_system: Index, systems: int) -> tuple[Timeline, Index]:
    """The rows of its system for each run, and which rows they are."""
    first, count = segment_bounds(rows.system, systems)
    many = count[run_system]
    owner = np.repeat(np.arange(run_system.size), many)
    at = np.arange(owner.size) + (first[run_system] - (np.cumsum(many) - many))[owner]
    return Timeline.of(owner, rows.start_yr[at], run_system.size), at


def exposure_of(rows: Rows, run_system: Index, systems: int, taken_per_yr: Array) -> Exposure:
    """What each run was exposed to; `taken_per_yr` (runs,) is the share its pipe takes a year."""
    timeline, at = _per_run(rows, run_system, systems)
    supplied, turnover = rows.supplied[at], rows.turnover[at]
    return build_exposure(
        timeline=timeline,
        oxygen=_carried(timeline, rows.level[at], supplied, turnover, taken_per_yr, rows.most[at]),
        makeup_oxygen=supplied,
        turnover_per_yr=turnover,
        consumption_per_yr=taken_per_yr,
    )


def _carried(
    timeline: Timeline, level: Array, supplied: Array, turnover: Array, taken: Array, most: Array
) -> Array:
    """Levels with what rows without one took over from the row before."""
    filled: Array = level.copy()
    while (carry := np.flatnonzero(np.isnan(filled))).size:
        carry = carry[~np.isnan(filled[carry - 1])]
        before = carry - 1
        decay = turnover[before] + taken[timeline.owner[before]]
        settled = supplied[before] * turnover[before] / np.maximum(decay, 1e-300)
        years = timeline.start_yr[carry] - timeline.start_yr[before]
        filled[carry] = np.minimum(span_end(filled[before], settled, decay, years), most[carry])
    return filled


def water_rows(batch: Batch) -> Rows:
    """Rows of what fresh water brings to sites that need no oxygen; a full pipe of it is 1.

    Notes: `level` is the share renewed where the row begins; the rest is what was left before.
    """
    s, a, water, spans = batch.systems, batch.assumptions, batch.water, batch.spans
    first = Timeline.of(spans.system, spans.start_yr, batch.size).first_start
    doses = Timeline.of(water.system, water.at_yr, batch.size).first_start
    known = np.minimum(np.minimum(first, doses), s.now_yr)
    topup = np.broadcast_to(np.asarray(a.topup_per_year, np.float64), batch.size)
    pools = np.broadcast_to(np.asarray(a.pool_renewals_per_year, np.float64), batch.size)
    before = np.where(s.has_pools, pools, topup + np.asarray(a.unknown_fills_per_year))
    fills = otherwise(s.future_fills, np.asarray(a.future_fills_wet, dtype=np.float64))
    after = np.where(s.has_pools, pools, topup + fills)
    one = np.ones(batch.size)
    steady = np.where(s.has_pools, pools, topup)
    ledger = Rows(
        water.system,
        water.at_yr,
        water.share,
        np.ones(water.system.size),
        np.where(water.at_yr >= s.now_yr[water.system], after[water.system], steady[water.system]),
        np.ones(water.system.size),
    )
    return _sorted(
        [
            _of(batch, np.minimum(s.installed_yr, known), 1.0, one, before),
            _of(batch, known, 0.0, one, steady),
            ledger,
            _of(batch, s.now_yr, 0.0, one, after),
        ]
    )


def clock_of(rows: Rows, run_system: Index, systems: int, feeding_yr: Array) -> Exposure:
    """Years for which sites on each run were fed; a filling feeds one for about `feeding_yr`."""
    timeline, at = _per_run(rows, run_system, systems)
    turnover, taken = rows.turnover[at], 1.0 / feeding_yr
    decay = turnover + taken[timeline.owner]
    return build_exposure(
        timeline=timeline,
        oxygen=_renewed(timeline, rows.level[at], turnover / decay, decay),
        makeup_oxygen=np.ones(at.size),
        turnover_per_yr=turnover,
        consumption_per_yr=taken,
    )


def _renewed(timeline: Timeline, share: Array, settled: Array, decay: Array) -> Array:
    """Level at the start of each row: the share renewed, and the rest of what was left."""
    level: Array = share.copy()
    rank = np.arange(share.size) - timeline.first[timeline.owner]
    partly = np.flatnonzero((share < 1.0) & (rank > 0))
    if not partly.size:
        return level
    keep = np.exp(-decay[partly - 1] * (timeline.start_yr[partly] - timeline.start_yr[partly - 1]))
    order = np.argsort(rank[partly], kind="stable")
    edges = np.flatnonzero(np.diff(rank[partly][order], prepend=-1))
    for group in np.split(order, edges[1:]):
        row = partly[group]
        left = settled[row - 1] + (level[row - 1] - settled[row - 1]) * keep[group]
        level[row] = share[row] + (1.0 - share[row]) * left
    return level
