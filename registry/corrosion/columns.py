"""From systems one by one to columns. Order of entry within a system does not matter."""

from collections.abc import Sequence
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
from registry.corrosion.dimensions import dn_from_nominal_size
from registry.corrosion.inputs import (
    CONSEQUENCE_MULTIPLIER,
    IN_MODEL,
    Leak,
    RunInput,
    SystemInput,
)
from registry.corrosion.thickness import wall_at_joints
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


def _floats(values: list[Any]) -> Array:
    """None becomes NaN."""
    return np.array(values, dtype=np.float64)


def _flags(values: list[bool]) -> Flags:
    return np.array(values, dtype=np.bool_)


def _index(values: list[int]) -> Index:
    return np.array(values, dtype=np.intp)


def _system_table(inputs: Sequence[SystemInput]) -> SystemTable:
    return SystemTable(
        has_pools=_flags([one.has_pools for one in inputs]),
        installed_yr=_floats([one.installed_yr for one in inputs]),
        now_yr=_floats([one.now_yr for one in inputs]),
        temperature_k=_floats([one.temperature_k for one in inputs]),
        pressure_pa=_floats([one.pressure_pa for one in inputs]),
        atmosphere_pa=_floats([one.atmosphere_pa for one in inputs]),
        dissolved_kg_m3=_floats([dissolved_oxygen(one) for one in inputs]),
        is_vented=_flags([one.is_vented for one in inputs]),
        consequence=_floats([CONSEQUENCE_MULTIPLIER[one.consequence_class] for one in inputs]),
        future_fills=_floats([one.future_fills_per_year for one in inputs]),
        future_oxygen=_floats([one.future_oxygen for one in inputs]),
        leaks_are_known=_flags([one.leaks_are_known for one in inputs]),
        outside_leaks_per_yr=_floats([_outside_leak_rate(one) for one in inputs]),
        found_wet=_floats([one.found_wet for one in inputs]),
        found_clear=_floats([one.found_clear for one in inputs]),
    )


def dissolved_oxygen(one: SystemInput) -> float:
    """Oxygen in the water let in, kg/m3: as measured, else saturated at the site."""
    if one.dissolved_oxygen_kg_m3 is not None:
        return one.dissolved_oxygen_kg_m3
    return float(saturated_oxygen(one.temperature_k, one.atmosphere_pa))


def _outside_leak_rate(one: SystemInput) -> float:
    """Leaks a year seen on runs the oxygen model does not cover: evidence, never an assumption."""
    outside = {i for i, run in enumerate(one.runs) if run.material not in IN_MODEL}
    only_outside = len(outside) == len(one.runs)
    leaks = [k for k in one.leaks if k.run in outside or (k.run is None and only_outside)]
    return len(leaks) / max(one.now_yr - one.installed_yr, 1.0)


def _run_table(inputs: Sequence[SystemInput]) -> RunTable:
    rows = [(system, run) for system, one in enumerate(inputs) for run in one.runs]
    runs = [run for _, run in rows]
    return RunTable(
        system=_index([system for system, _ in rows]),
        bore_m=_floats([run.outside_diameter_m - 2.0 * run.wall_m for run in runs]),
        wall_m=_floats([run.wall_m for run in runs]),
        joint_wall_m=_floats([_joint_wall(run) for run in runs]),
        length_m=_floats([run.length_m for run in runs]),
        installed_yr=_floats([run.installed_yr for run in runs]),
        is_branch=_flags([run.role == "branch_line" for run in runs]),
        trapped=_floats([run.trapped_fraction for run in runs]),
        wetted=_floats([run.wetted_fraction for run in runs]),
        has_zinc=_flags([run.material == "galvanized_steel" for run in runs]),
        in_model=_flags([run.material in IN_MODEL for run in runs]),
    )


def _joint_wall(run: RunInput) -> float:
    return wall_at_joints(run.wall_m, dn_from_nominal_size(run.nominal_size), run.joint)


def _span_table(inputs: Sequence[SystemInput]) -> SpanTable:
    rows = [
        (system, span)
        for system, one in enumerate(inputs)
        for span in sorted(one.spans, key=lambda s: (s.start_yr, s.oxygen, s.turnover_per_yr))
    ]
    return SpanTable(
        system=_index([system for system, _ in rows]),
        start_yr=_floats([span.start_yr for _, span in rows]),
        oxygen=_floats([span.oxygen for _, span in rows]),
        makeup_oxygen=_floats([span.makeup_oxygen for _, span in rows]),
        turnover_per_yr=_floats([span.turnover_per_yr for _, span in rows]),
    )


def _water_table(inputs: Sequence[SystemInput]) -> WaterTable:
    rows = [
        (system, one, dose)
        for system, one in enumerate(inputs)
        for dose in sorted(one.water, key=lambda d: (d.at_yr, d.share))
    ]
    return WaterTable(
        system=_index([system for system, _, _ in rows]),
        at_yr=_floats([dose.at_yr for _, _, dose in rows]),
        amount_kg_m3=_floats(
            [
                dose.share
                * (
                    dissolved_oxygen(one)
                    if dose.dissolved_oxygen_kg_m3 is None
                    else dose.dissolved_oxygen_kg_m3
                )
                for _, one, dose in rows
            ]
        ),
    )


def _wall_table(inputs: Sequence[SystemInput], base: Index) -> WallTable:
    rows = [
        (system, reading)
        for system, one in enumerate(inputs)
        for reading in sorted(one.walls, key=lambda r: (r.run, r.at_yr, r.remaining_m))
    ]
    return WallTable(
        system=_index([system for system, _ in rows]),
        run=_index([int(base[system]) + reading.run for system, reading in rows]),
        at_yr=_floats([reading.at_yr for _, reading in rows]),
        remaining_m=_floats([reading.remaining_m for _, reading in rows]),
        is_least=_flags([reading.is_least_of_scan for _, reading in rows]),
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
