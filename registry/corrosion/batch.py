"""Many systems as columns. Tables are sorted by system; evidence points at rows of runs."""

from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from registry.corrosion.assumptions import Assumptions
from registry.corrosion.timeline import Index, segment_bounds
from registry.corrosion.types import Array

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class SystemTable:
    has_pools: Flags
    is_open: Flags  # holds no gas but the air of the place
    installed_yr: Array
    now_yr: Array
    temperature_k: Array
    pressure_pa: Array
    atmosphere_pa: Array
    dissolved_kg_m3: Array
    is_vented: Flags
    consequence: Array
    future_fills: Array  # NaN: as assumed
    future_oxygen: Array  # NaN: like the latest fill's
    outside_leaks_per_yr: Array
    found_wet: Array  # looks inside that found traces of standing water
    found_clear: Array  # looks inside that found none
    leaks_known_from_yr: Array  # NaN: of no year
    watched_until_yr: Array  # inf: until now
    sulphate_kg_m3: Array  # NaN: as assumed
    sign_log_odds: Array  # what signs of attack without oxygen add to the log odds of it
    inert_from_yr: Array  # inf: not made inert
    site_factor: Array  # what is left of attack without oxygen from now on


@dataclass(frozen=True)
class RunTable:
    system: Index
    bore_m: Array
    wall_m: Array
    joint_wall_m: Array
    length_m: Array
    installed_yr: Array
    is_branch: Flags
    trapped: Array  # NaN: as assumed
    wetted: Array  # NaN: as assumed
    has_zinc: Flags
    in_model: Flags
    thick_wall_m: Array  # of Schedule 40, or its own where that is thicker
    thick_joint_wall_m: Array
    has_baseline: Flags  # its wall was measured when new


@dataclass(frozen=True)
class SpanTable:
    system: Index
    start_yr: Array
    oxygen: Array
    makeup_oxygen: Array
    turnover_per_yr: Array


@dataclass(frozen=True)
class WaterTable:
    system: Index
    at_yr: Array
    amount_kg_m3: Array
    share: Array  # of the water in the pipe that it renewed


@dataclass(frozen=True)
class WallTable:
    system: Index
    run: Index
    at_yr: Array
    remaining_m: Array
    method: Index  # of METHODS
    dressed: Index  # of DRESSED
    error_m: Array  # NaN: as assumed


@dataclass(frozen=True)
class CouponTable:
    system: Index
    run: Index
    from_yr: Array
    to_yr: Array
    rate_m_per_yr: Array


@dataclass(frozen=True)
class LeakTable:
    system: Index
    run: Index  # -1: not known
    found_yr: Array


@dataclass(frozen=True)
class Batch:
    """Many systems as columns."""

    systems: SystemTable
    runs: RunTable
    spans: SpanTable
    water: WaterTable
    walls: WallTable
    coupons: CouponTable
    leaks: LeakTable
    assumptions: Assumptions = field(default_factory=Assumptions)

    @property
    def size(self) -> int:
        return int(self.systems.now_yr.size)

    def part(self, begin: int, end: int) -> "Batch":
        """Systems `begin` to `end` as a batch of their own."""
        first_run, _ = _rows(self.runs.system, begin, end)
        return Batch(
            systems=_cut(self.systems, begin, end),
            runs=_owned(self.runs, begin, end, first_run),
            spans=_owned(self.spans, begin, end, first_run),
            water=_owned(self.water, begin, end, first_run),
            walls=_owned(self.walls, begin, end, first_run),
            coupons=_owned(self.coupons, begin, end, first_run),
            leaks=_owned(self.leaks, begin, end, first_run),
            assumptions=self.assumptions.for_systems(np.arange(begin, end)),
        )


Table = TypeVar("Table")


def _rows(owner: Index, begin: int, end: int) -> tuple[int, int]:
    low, high = np.searchsorted(owner, [begin, end])
    return int(low), int(high)


def _cut(table: Table, low: int, high: int) -> Table:
    columns = {f.name: getattr(table, f.name)[low:high] for f in fields(table)}  # type: ignore[arg-type]
    return type(table)(**columns)


def _owned(table: Table, begin: int, end: int, first_run: int) -> Table:
    low, high = _rows(table.system, begin, end)  # type: ignore[attr-defined]
    cut: Any = _cut(table, low, high)
    moved = {"system": cut.system - begin}
    if hasattr(cut, "run"):
        moved["run"] = np.where(cut.run >= 0, cut.run - first_run, -1)
    result: Table = replace(cut, **moved)
    return result


def first_run_of(batch: Batch) -> tuple[Index, Index]:
    """First run and number of runs of each system."""
    return segment_bounds(batch.runs.system, batch.size)
