"""From systems one by one to columns. Order of entry within a system does not matter."""

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from operator import attrgetter
from typing import Any

import numpy as np

from registry.corrosion.assumptions import Assumptions, stacked
from registry.corrosion.batch import (
    Batch,
    CouponTable,
    Flags,
    LeakTable,
    RunTable,
    SpanTable,
    SystemTable,
    WallTable,
    WaterTable,
)
from registry.corrosion.dimensions import dn_from_nominal_size, pipe_dimensions
from registry.corrosion.inputs import (
    CONSEQUENCE_MULTIPLIER,
    DRESSED,
    IN_MODEL,
    METHODS,
    Leak,
    SystemInput,
)
from registry.corrosion.thickness import likely_joint, wall_at_joints
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array
from registry.corrosion.water import saturated_oxygen


def batch_from(inputs: Sequence[SystemInput]) -> Batch:
    """Columns of many systems; order of spans, doses and readings within one does not matter."""
    run_base = np.concatenate(([0], np.cumsum([len(one.runs) for one in inputs])))[:-1]
    return Batch(
        systems=_system_table(inputs),
        runs=_run_table(inputs),
        spans=_span_table(inputs),
        water=_water_table(inputs),
        walls=_wall_table(inputs, run_base),
        coupons=_coupon_table(inputs, run_base),
        leaks=_leak_table(inputs, run_base),
        assumptions=stacked([one.assumptions for one in inputs]) if inputs else Assumptions(),
    )


def _floats(values: Sequence[Any]) -> Array:
    """None becomes NaN."""
    return np.array(values, dtype=np.float64)


def _flags(values: Sequence[bool]) -> Flags:
    return np.array(values, dtype=np.bool_)


def _index(values: Sequence[int]) -> Index:
    return np.array(values, dtype=np.intp)


def _fields(names: str, rows: Iterable[Any]) -> dict[str, tuple[Any, ...]]:
    """Fields of many rows by name, read in one go."""
    wanted = names.split()
    found = zip(*map(attrgetter(*wanted), rows), strict=True)
    return dict(zip(wanted, found, strict=False)) or dict.fromkeys(wanted, ())


def _owners(inputs: Sequence[SystemInput], rows: Callable[[SystemInput], Sequence[Any]]) -> Index:
    counts = _index([len(rows(one)) for one in inputs])
    return np.repeat(np.arange(counts.size), counts)


def _system_table(inputs: Sequence[SystemInput]) -> SystemTable:
    named = _fields(
        "has_pools is_open installed_yr now_yr temperature_k pressure_pa atmosphere_pa is_vented"
        " future_fills_per_year future_oxygen found_wet found_clear book_began_yr"
        " sulphate_kg_m3 watched_until_yr",
        inputs,
    )
    return SystemTable(
        has_pools=_flags(named["has_pools"]),
        is_open=_flags(named["is_open"]),
        installed_yr=_floats(named["installed_yr"]),
        now_yr=_floats(named["now_yr"]),
        temperature_k=_floats(named["temperature_k"]),
        pressure_pa=_floats(named["pressure_pa"]),
        atmosphere_pa=_floats(named["atmosphere_pa"]),
        dissolved_kg_m3=_floats([dissolved_oxygen(one) for one in inputs]),
        is_vented=_flags(named["is_vented"]),
        consequence=_floats([CONSEQUENCE_MULTIPLIER[one.consequence_class] for one in inputs]),
        future_fills=_floats(named["future_fills_per_year"]),
        future_oxygen=_floats(named["future_oxygen"]),
        outside_leaks_per_yr=_floats([_outside_leak_rate(one) for one in inputs]),
        found_wet=_floats(named["found_wet"]),
        found_clear=_floats(named["found_clear"]),
        leaks_known_from_yr=_floats(named["book_began_yr"])
        - _floats([one.assumptions.leaks_known_years for one in inputs]),
        watched_until_yr=_floats(
            [np.inf if one is None else one for one in named["watched_until_yr"]]
        ),
        sulphate_kg_m3=_floats(named["sulphate_kg_m3"]),
        sign_log_odds=_floats([_sign_log_odds(one) for one in inputs]),
        inert_from_yr=np.full(len(inputs), np.inf),
        site_factor=np.ones(len(inputs)),
    )


def _sign_log_odds(one: SystemInput) -> float:
    ratios = (getattr(one.assumptions, f"sign_{sign}") for sign in one.signs)
    return float(sum(np.log(ratio) for ratio in ratios))


def dissolved_oxygen(one: SystemInput) -> float:
    """Oxygen in the water let in, kg/m3: as measured, else saturated at the site."""
    if one.dissolved_oxygen_kg_m3 is not None:
        return one.dissolved_oxygen_kg_m3
    return float(saturated_oxygen(one.temperature_k, one.atmosphere_pa))


def _outside_leak_rate(one: SystemInput) -> float:
    """Leaks a year seen on runs the oxygen model does not cover: evidence, never an assumption."""
    if not one.leaks:
        return 0.0
    outside = {i for i, run in enumerate(one.runs) if run.material not in IN_MODEL}
    only_outside = len(outside) == len(one.runs)
    leaks = [k for k in one.leaks if k.run in outside or (k.run is None and only_outside)]
    return len(leaks) / max(one.now_yr - one.installed_yr, 1.0)


def _run_table(inputs: Sequence[SystemInput]) -> RunTable:
    named = _fields(
        "outside_diameter_m wall_m length_m installed_yr role trapped_fraction wetted_fraction"
        " material nominal_size joint",
        (run for one in inputs for run in one.runs),
    )
    baselines = [wall for one in inputs for wall in _baselines(one)]
    as_built = [
        wall if seen is None else seen
        for wall, seen in zip(named["wall_m"], baselines, strict=True)
    ]
    wall_m, material = _floats(as_built), named["material"]
    walls = map(_walls, material, named["nominal_size"], as_built, named["joint"])
    at_joint, thick, thick_at_joint = _floats(list(walls)).reshape(-1, 3).T
    return RunTable(
        system=_owners(inputs, lambda one: one.runs),
        bore_m=_floats(named["outside_diameter_m"]) - 2.0 * _floats(named["wall_m"]),
        wall_m=wall_m,
        joint_wall_m=at_joint,
        length_m=_floats(named["length_m"]),
        installed_yr=_floats(named["installed_yr"]),
        is_branch=_flags([role == "branch_line" for role in named["role"]]),
        trapped=_floats(named["trapped_fraction"]),
        wetted=_floats(named["wetted_fraction"]),
        has_zinc=_flags([one == "galvanized_steel" for one in material]),
        in_model=_flags([one in IN_MODEL for one in material]),
        thick_wall_m=thick,
        thick_joint_wall_m=thick_at_joint,
        has_baseline=_flags([seen is not None for seen in baselines]),
    )


def _baselines(one: SystemInput) -> list[float | None]:
    """Least wall measured of each run while it was new, m; None where nobody did."""
    found: list[float | None] = [None] * len(one.runs)
    for reading in one.walls:
        if reading.is_baseline:
            known = found[reading.run]
            found[reading.run] = min(reading.remaining_m, known or reading.remaining_m)
    return found


@lru_cache(maxsize=8192)
def _walls(material: str, size: str, wall: float, joint: str) -> tuple[float, float, float]:
    """Wall left at the joints; wall of Schedule 40 where that is thicker; what its joints leave.

    Thicker pipe is joined as the pipe itself is: an unknown joint must not become a thread.
    """
    dn = dn_from_nominal_size(size)
    at_joint = wall_at_joints(wall, dn, joint)
    if material not in IN_MODEL:
        return at_joint, wall, at_joint
    thick = max(wall, pipe_dimensions(material=material, nps=size, schedule="40").wall_m)
    return at_joint, thick, wall_at_joints(thick, dn, likely_joint(wall, dn, joint))


def _span_table(inputs: Sequence[SystemInput]) -> SpanTable:
    names = "start_yr oxygen makeup_oxygen turnover_per_yr"
    named = _fields(names, (span for one in inputs for span in one.spans))
    order = span_order(inputs)
    columns = {name: _floats(column)[order] for name, column in named.items()}
    return SpanTable(system=_owners(inputs, lambda one: one.spans), **columns)


def span_order(inputs: Sequence[SystemInput]) -> Index:
    """Rows of the systems' spans in the order in which the columns hold them."""
    named = _fields("turnover_per_yr oxygen start_yr", (s for one in inputs for s in one.spans))
    owner = _owners(inputs, lambda one: one.spans)
    order: Index = np.lexsort((*(_floats(column) for column in named.values()), owner))
    return order


def _water_table(inputs: Sequence[SystemInput]) -> WaterTable:
    named = _fields(
        "at_yr share dissolved_oxygen_kg_m3", (dose for one in inputs for dose in one.water)
    )
    at_yr, share = _floats(named["at_yr"]), _floats(named["share"])
    owner, given = _owners(inputs, lambda one: one.water), _floats(named["dissolved_oxygen_kg_m3"])
    usual = _floats([dissolved_oxygen(one) if one.water else 0.0 for one in inputs])
    amount = share * np.where(np.isnan(given), usual[owner], given)
    order = np.lexsort((share, at_yr, owner))
    return WaterTable(owner, at_yr[order], amount[order], np.clip(share[order], 0.0, 1.0))


def _wall_table(inputs: Sequence[SystemInput], base: Index) -> WallTable:
    rows = [
        (system, reading)
        for system, one in enumerate(inputs)
        for reading in sorted(one.walls, key=lambda r: (r.run, r.at_yr, r.remaining_m))
        if not reading.is_baseline
    ]
    return WallTable(
        system=_index([system for system, _ in rows]),
        run=_index([int(base[system]) + reading.run for system, reading in rows]),
        at_yr=_floats([reading.at_yr for _, reading in rows]),
        remaining_m=_floats([reading.remaining_m for _, reading in rows]),
        method=_index([METHODS.index(reading.method) for _, reading in rows]),
        dressed=_index([DRESSED.index(reading.dressed) for _, reading in rows]),
        error_m=_floats([reading.error_m for _, reading in rows]),
    )


def _coupon_table(inputs: Sequence[SystemInput], base: Index) -> CouponTable:
    rows = [
        (system, reading)
        for system, one in enumerate(inputs)
        for reading in sorted(one.coupons, key=lambda r: (r.run, r.from_yr, r.rate_m_per_yr))
    ]
    return CouponTable(
        system=_index([system for system, _ in rows]),
        run=_index([int(base[system]) + reading.run for system, reading in rows]),
        from_yr=_floats([reading.from_yr for _, reading in rows]),
        to_yr=_floats([reading.to_yr for _, reading in rows]),
        rate_m_per_yr=_floats([reading.rate_m_per_yr for _, reading in rows]),
    )


def _leak_table(inputs: Sequence[SystemInput], base: Index) -> LeakTable:
    """Leaks that the oxygen model has to explain: those on runs it covers."""
    rows = [
        (system, leak)
        for system, one in enumerate(inputs)
        for leak in sorted(one.leaks, key=lambda k: k.found_yr)
        if _is_explained(one, leak)
    ]
    return LeakTable(
        system=_index([system for system, _ in rows]),
        run=_index(
            [-1 if leak.run is None else int(base[system]) + leak.run for system, leak in rows]
        ),
        found_yr=_floats([leak.found_yr for _, leak in rows]),
    )


def _is_explained(one: SystemInput, leak: Leak) -> bool:
    if leak.run is None:
        return any(run.material in IN_MODEL for run in one.runs)
    return one.runs[leak.run].material in IN_MODEL
