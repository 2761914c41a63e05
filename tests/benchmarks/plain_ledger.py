"""The ledger of one run written a second time in plain Python: gas, water, and what they cost."""

import math
from dataclasses import dataclass

from registry.corrosion.constants import (
    ALLOWABLE_STRESS,
    DENSITY_STEEL,
    GAS_CONSTANT,
    IRON_PER_SULPHATE,
    MOLAR_MASS_OXYGEN,
)
from registry.corrosion.dimensions import dn_from_nominal_size
from registry.corrosion.inputs import IN_MODEL, SystemInput
from registry.corrosion.rates import (
    YEAR,
    oxygen_diffusivity,
    steel_depth_per_oxygen,
    zinc_as_steel_depth,
)
from registry.corrosion.thickness import wall_at_joints
from registry.corrosion.water import dissolved_oxygen_under_gas, saturated_oxygen
from registry.corrosion.waterline import segment_angle

STEEL = steel_depth_per_oxygen()


@dataclass
class Row:
    start: float
    level: float | None
    supplied: float
    turnover: float


class Content:
    """Rows of one run: what its content was at a time, and the integral of it."""

    def __init__(self, rows: list[Row], taken: float, *, renews: bool = False):
        self.rows, self.taken = rows, taken
        self.levels: list[float] = []
        for at, row in enumerate(rows):
            level = row.level
            if at and (level is None or (renews and level < 1)):
                left = self._end(at - 1, row.start - rows[at - 1].start)
                level = left if level is None else level + (1 - level) * left
            self.levels.append(level)

    def _decay(self, at: int) -> tuple[float, float]:
        row = self.rows[at]
        decay = row.turnover + self.taken
        return decay, row.supplied * row.turnover / decay if decay > 0 else 0.0

    def _end(self, at: int, years: float) -> float:
        decay, settled = self._decay(at)
        return settled + (self.levels[at] - settled) * math.exp(-decay * years)

    def up_to(self, time: float) -> float:
        total = 0.0
        for at, row in enumerate(self.rows):
            if row.start > time:
                break
            end = time
            if at + 1 < len(self.rows):
                end = min(time, self.rows[at + 1].start)
            decay, settled = self._decay(at)
            years = end - row.start
            gone = -math.expm1(-decay * years) / decay if decay > 0 else years
            total += settled * years + (self.levels[at] - settled) * gone
        return total


def _mixed(supplied: float, turnover: float, renewals: float, renewed: float):
    brought = max(renewed, supplied) if turnover > 0 else renewed
    total = turnover + renewals
    return (turnover * supplied + renewals * brought) / total if total else 0.0, total


def gas_rows(system: SystemInput) -> list[Row]:
    s, a = system, system.assumptions
    spans = sorted(s.spans, key=lambda x: (x.start_yr, x.oxygen, x.turnover_per_yr))
    known = spans[0].start_yr if spans else s.now_yr
    silent = a.unknown_turnover_per_year if s.has_pools else a.unknown_fills_per_year
    rows = [Row(min(s.installed_yr, known), a.unknown_oxygen, a.unknown_oxygen, silent)]
    usual = a.future_breaches_dry if s.has_pools else a.future_fills_wet
    renewals = usual if s.future_fills_per_year is None else s.future_fills_per_year
    latest = a.unknown_oxygen
    if spans and not s.has_pools:
        latest = spans[-1].oxygen
    renewed = latest if s.future_oxygen is None else s.future_oxygen
    held = (a.unknown_oxygen, silent if s.has_pools else 0.0)
    for span in spans:
        own = (span.makeup_oxygen, span.turnover_per_yr if s.has_pools else 0.0)
        if span.start_yr <= s.now_yr:
            held = own
        if span.start_yr >= s.now_yr:
            own = _mixed(*own, renewals, renewed)
        rows.append(Row(span.start_yr, span.oxygen, *own))
    ahead = Row(s.now_yr, None, *_mixed(*held, renewals, renewed))
    return sorted([*rows, ahead], key=lambda row: row.start)


def water_rows(system: SystemInput) -> list[Row]:
    s, a = system, system.assumptions
    doses = sorted(s.water, key=lambda d: (d.at_yr, d.share))
    known = min([s.now_yr, *(x.start_yr for x in s.spans), *(d.at_yr for d in doses)])
    fills = a.future_fills_wet if s.future_fills_per_year is None else s.future_fills_per_year
    pools = a.pool_renewals_per_year
    steady = pools if s.has_pools else a.topup_per_year
    before = pools if s.has_pools else a.topup_per_year + a.unknown_fills_per_year
    after = pools if s.has_pools else a.topup_per_year + fills
    rows = [Row(min(s.installed_yr, known), 1.0, 1.0, before), Row(known, 0.0, 1.0, steady)]
    for dose in doses:
        rate = after if dose.at_yr >= s.now_yr else steady
        rows.append(Row(dose.at_yr, min(max(dose.share, 0.0), 1.0), 1.0, rate))
    return sorted([*rows, Row(s.now_yr, 0.0, 1.0, after)], key=lambda row: row.start)


class Dissolved:
    def __init__(self, system: SystemInput):
        self.system = system
        self.usual = system.dissolved_oxygen_kg_m3
        if self.usual is None:
            self.usual = saturated_oxygen(system.temperature_k, system.atmosphere_pa)
        self.known = min((x.start_yr for x in system.spans), default=system.now_yr)

    def up_to(self, time: float) -> float:
        s, a = self.system, self.system.assumptions
        fills = a.future_fills_wet if s.future_fills_per_year is None else s.future_fills_per_year
        before = min(max(time - s.installed_yr, 0.0), max(self.known - s.installed_yr, 0.0))
        total = self.usual * (a.unknown_fills_per_year * before + fills * max(time - s.now_yr, 0.0))
        for dose in s.water:
            if dose.at_yr <= time:
                amount = dose.dissolved_oxygen_kg_m3
                total += dose.share * (self.usual if amount is None else amount)
        return total


class PlainRun:
    """One run: depth of attack for theta 1, leaks expected, sites through."""

    def __init__(self, system: SystemInput, at: int, pools_take: float, rows, dissolved: Dissolved):
        s, a, run = system, system.assumptions, system.runs[at]
        self.input, self.assumed, self.dissolved = run, a, dissolved
        measured = [w.remaining_m for w in s.walls if w.is_baseline and w.run == at]
        self.wall = min(measured, default=run.wall_m)
        self.has_baseline = bool(measured)
        self.bore = run.outside_diameter_m - 2 * run.wall_m
        self.counts = run.material in IN_MODEL
        self.zinc = 0.0
        if run.material == "galvanized_steel":
            self.zinc = zinc_as_steel_depth(a.zinc_per_surface)
        supply = supply_of(s)
        density = s.pressure_pa * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * s.temperature_k)
        wetted = a.wetted_pools if run.wetted_fraction is None else run.wetted_fraction
        if s.has_pools:
            reach, flow = half_strip(self.bore, a.pool_fill, a.rust_film_m)
            self.per_exposure = supply / (reach / (flow / 4)) * STEEL * YEAR
            self.per_dissolved, taken, share, full = 0.0, pools_take, wetted, a.pool_fill
        else:
            fill = min(max(a.pocket_fill * s.atmosphere_pa / s.pressure_pa, 1e-4), 0.98)
            reach, flow = half_strip(self.bore, 1 - fill, a.rust_film_m)
            section = fill * math.pi / 4 * self.bore**2
            taken = supply * flow * YEAR / (section * density)
            self.per_exposure = density * section / (4 * reach) * STEEL * taken
            self.per_dissolved = self.bore / 4 * STEEL
            trapped = a.trapped_branch if run.role == "branch_line" else a.trapped_main
            trapped *= a.vented_factor if s.is_vented else 1.0
            trapped = trapped if run.trapped_fraction is None else run.trapped_fraction
            share, full = min(trapped / a.pocket_fill, 1.0), 1.0
        self.per_exposure *= self.counts
        self.per_dissolved *= self.counts
        self.per_year = self.per_dissolved * a.topup_per_year * dissolved.usual
        joint = wall_at_joints(self.wall, dn_from_nominal_size(run.nominal_size), run.joint)
        self.reach = (joint + self.zinc) / a.pit_scale
        self.patches = run.length_m * share / a.patch_length_m * self.counts
        self.weight = self.patches * math.exp(a.pit_location / a.pit_scale)
        standing = wetted / 0.05 if s.has_pools else 1.0
        self.sites = math.pi * self.bore * run.length_m / 150.0 * standing * self.counts
        self.half = self.wall / a.site_rate_m_per_yr
        sulphate = a.sulphate_kg_m3 if s.sulphate_kg_m3 is None else s.sulphate_kg_m3
        water = math.pi / 4 * self.bore**2 * a.catchment_m * full
        pit = 2 / 3 * math.pi * self.wall**3 * DENSITY_STEEL
        feeding = max(self.half * sulphate * water * IRON_PER_SULPHATE / pit, 1e-6)
        self.gas = Content(rows[0], taken)
        self.clock = Content(rows[1], 1.0 / feeding, renews=True)
        gauge = max(s.pressure_pa - s.atmosphere_pa, 0.0)
        outside = self.bore + 2 * self.wall
        needed = gauge * outside / (2 * (ALLOWABLE_STRESS + gauge * 0.4))
        self.least = min(needed, 0.9 * self.wall)

    def depth(self, time: float) -> float:
        since = self.input.installed_yr
        if time <= since:
            return 0.0
        gas = self.gas.up_to(time) - self.gas.up_to(since)
        water = self.dissolved.up_to(time) - self.dissolved.up_to(since)
        dose = self.per_exposure * gas + self.per_dissolved * water
        dose = max(dose + self.per_year * (time - since), 0.0)
        return 1e-3 * (dose / 1e-3) ** self.assumed.dose_exponent

    def fed(self, time: float) -> float:
        since = self.input.installed_yr
        return max(self.clock.up_to(time) - self.clock.up_to(since), 0.0)

    def through(self, time: float) -> float:
        z = math.log(max(self.fed(time), 1e-9) / self.half) / self.assumed.site_spread
        return self.sites * 0.5 * math.erfc(-z / math.sqrt(2))

    def leaks(self, depth: float, multiple: float) -> float:
        tail = math.exp(-min(self.reach / max(depth, 1e-12) / multiple, 80.0))
        return self.weight * tail / (1.0 - tail)


def half_strip(diameter: float, water: float, film: float) -> tuple[float, float]:
    """Reach of half of the oxygen, and flow of both sides over D C."""
    beta = segment_angle(water)
    angle, arc = beta / 2, beta * diameter / 4
    ratio = angle * arc / film
    return film / angle * (math.sqrt(1 + ratio) - 1), 2 / angle * math.log1p(ratio)


def supply_of(system: SystemInput) -> float:
    t = system.temperature_k
    return oxygen_diffusivity(t) * dissolved_oxygen_under_gas(1.0, system.pressure_pa, t)


def runs_of(system: SystemInput) -> list[PlainRun]:
    s, a = system, system.assumptions
    density = s.pressure_pa * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * s.temperature_k)
    uptake = volume = 0.0
    for run in s.runs:
        bore = run.outside_diameter_m - 2 * run.wall_m
        volume += math.pi / 4 * bore**2 * run.length_m
        if run.material in IN_MODEL:
            share = a.wetted_pools if run.wetted_fraction is None else run.wetted_fraction
            _, flow = half_strip(bore, a.pool_fill, a.rust_film_m)
            uptake += supply_of(s) * flow * YEAR * share * run.length_m
    takes = uptake / (volume * density) if volume else 0.0
    rows, dissolved = (gas_rows(s), water_rows(s)), Dissolved(s)
    return [PlainRun(s, at, takes, rows, dissolved) for at in range(len(s.runs))]
