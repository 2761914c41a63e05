"""The model written a second time, one object after the other, in plain Python.

What the array form is compared with, for speed and for its numbers. No NumPy and none of the
package's array code: only its scalar physics, constants and dataclasses.
"""

import math
from dataclasses import dataclass

from registry.corrosion.assess import HORIZONS, QUANTILES
from registry.corrosion.constants import GAS_CONSTANT, MOLAR_MASS_OXYGEN
from registry.corrosion.dimensions import dn_from_nominal_size
from registry.corrosion.evidence import MEAN_DATING
from registry.corrosion.inputs import CONSEQUENCE_MULTIPLIER, IN_MODEL, Leak, SystemInput
from registry.corrosion.prior import NODES, REACH, REACH_BELOW
from registry.corrosion.rates import (
    YEAR,
    oxygen_diffusivity,
    steel_depth_per_oxygen,
    zinc_as_steel_depth,
)
from registry.corrosion.score import CERTAIN
from registry.corrosion.thickness import wall_at_joints
from registry.corrosion.water import dissolved_oxygen_under_gas, saturated_oxygen
from registry.corrosion.waterline import segment_angle

EULER_GAMMA = 0.5772156649015329
STEEL = steel_depth_per_oxygen()


@dataclass
class Run:
    per_exposure: float
    per_dissolved: float
    installed: float
    wall: float
    zinc: float
    reach: float
    weight: float


@dataclass
class Result:
    leak_probability: list[float]
    score: float
    life: list[float]
    theta: list[float]
    run_loss: list[list[float]]


class Ledger:
    def __init__(self, system: SystemInput, consumption: float):
        self.system, self.consumption = system, consumption
        self.spans = sorted(system.spans, key=lambda s: (s.start_yr, s.oxygen, s.turnover_per_yr))
        self.water = sorted(system.water, key=lambda d: d.at_yr)
        self.known_from = self.spans[0].start_yr if self.spans else system.now_yr
        self.dissolved = system.dissolved_oxygen_kg_m3
        if self.dissolved is None:
            self.dissolved = saturated_oxygen(system.temperature_k, system.atmosphere_pa)
        self.unknown_rate = self._unknown_rate()
        self.future_rate = self._future_rate()
        self.future_fills = self._fills(system.assumptions.future_fills_wet)

    def _fills(self, assumed: float) -> float:
        given = self.system.future_fills_per_year
        return assumed if given is None else given

    def _unknown_rate(self) -> float:
        a, k = self.system.assumptions, self.consumption
        if self.system.has_pools:
            supply = a.unknown_turnover_per_year
            return a.unknown_oxygen * supply / (supply + k)
        return a.unknown_fills_per_year * a.unknown_oxygen / k

    def _future_rate(self) -> float:
        s, a, k = self.system, self.system.assumptions, self.consumption
        if not s.has_pools:
            latest = self.spans[-1].oxygen if self.spans else a.unknown_oxygen
            oxygen = latest if s.future_oxygen is None else s.future_oxygen
            return oxygen * self._fills(a.future_fills_wet) / k
        oxygen = a.unknown_oxygen if s.future_oxygen is None else s.future_oxygen
        supply, makeup = a.unknown_turnover_per_year, a.unknown_oxygen
        if self.spans:
            supply, makeup = self.spans[-1].turnover_per_yr, self.spans[-1].makeup_oxygen
        settled = makeup * supply / max(supply + k, 1e-12)
        lasting = min(self._fills(a.future_breaches_dry) / max(supply + k, 1e-12), 1.0)
        excess = max(oxygen - settled, 0.0)
        return excess * lasting + (0.0 if self.spans else self.unknown_rate)

    def _stretches(self, time: float) -> tuple[float, float]:
        s = self.system
        unknown = min(max(time - s.installed_yr, 0.0), max(self.known_from - s.installed_yr, 0.0))
        return unknown, max(time - s.now_yr, 0.0)

    def exposure(self, time: float) -> float:
        unknown, future = self._stretches(time)
        total = self.unknown_rate * unknown + self.future_rate * future
        for i, span in enumerate(self.spans):
            if span.start_yr > time:
                break
            end = time
            if i + 1 < len(self.spans):
                end = min(time, self.spans[i + 1].start_yr)
            total += self._integral(span, end - span.start_yr)
        return total

    def _integral(self, span, years: float) -> float:
        supply = span.turnover_per_yr if self.system.has_pools else 0.0
        decay = supply + self.consumption
        if decay == 0:
            return span.oxygen * years
        settled = span.makeup_oxygen * supply / decay
        gone = -math.expm1(-decay * years)
        return settled * years + (span.oxygen - settled) * gone / decay

    def dissolved_in(self, time: float) -> float:
        unknown, future = self._stretches(time)
        fills = self.system.assumptions.unknown_fills_per_year
        total = self.dissolved * (fills * unknown + self.future_fills * future)
        for dose in self.water:
            if dose.at_yr <= time:
                amount = dose.dissolved_oxygen_kg_m3
                total += dose.share * (self.dissolved if amount is None else amount)
        return total


def _half_strip(diameter: float, water: float, film: float) -> tuple[float, float]:
    """Reach of half of the oxygen, and flow of both sides over D C."""
    beta = segment_angle(water)
    angle, arc = beta / 2, beta * diameter / 4
    ratio = angle * arc / film
    return film / angle * (math.sqrt(1 + ratio) - 1), 2 / angle * math.log1p(ratio)


def _runs(system: SystemInput) -> tuple[list[Run], float]:
    a, pressure, temperature = system.assumptions, system.pressure_pa, system.temperature_k
    supply = oxygen_diffusivity(temperature) * dissolved_oxygen_under_gas(
        1.0, pressure, temperature
    )
    gas = pressure * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * temperature)
    runs, uptake, volume = [], 0.0, 0.0
    for run in system.runs:
        bore = run.outside_diameter_m - 2 * run.wall_m
        counts = run.material in IN_MODEL
        volume += math.pi / 4 * bore**2 * run.length_m
        zinc = 0.0
        if run.material == "galvanized_steel":
            zinc = zinc_as_steel_depth(a.zinc_per_surface)
        if system.has_pools:
            reach, flow = _half_strip(bore, a.pool_fill, a.rust_film_m)
            share = a.wetted_pools if run.wetted_fraction is None else run.wetted_fraction
            per_exposure = supply / (reach / (flow / 4)) * STEEL * YEAR
            per_dissolved = 0.0
            uptake += supply * flow * YEAR * share * run.length_m * counts
        else:
            reach, _ = _half_strip(bore, 1 - a.pocket_fill, a.rust_film_m)
            section = a.pocket_fill * math.pi / 4 * bore**2
            per_exposure = gas * section / (4 * reach) * STEEL * 365.25 / a.pocket_decay_days
            per_dissolved = bore / 4 * STEEL
            trapped = a.trapped_branch if run.role == "branch_line" else a.trapped_main
            trapped *= a.vented_factor if system.is_vented else 1.0
            trapped = trapped if run.trapped_fraction is None else run.trapped_fraction
            share = min(trapped * system.atmosphere_pa / pressure / a.pocket_fill, 1.0)
        joint = wall_at_joints(run.wall_m, dn_from_nominal_size(run.nominal_size), run.joint)
        runs.append(
            Run(
                per_exposure=per_exposure * counts,
                per_dissolved=per_dissolved * counts,
                installed=run.installed_yr,
                wall=run.wall_m,
                zinc=zinc,
                reach=(joint + zinc) / a.pit_scale,
                weight=run.length_m
                * share
                / a.patch_length_m
                * counts
                * math.exp(a.pit_location / a.pit_scale),
            )
        )
    if system.has_pools:
        return runs, uptake / (volume * gas) if volume else 0.0
    return runs, 365.25 / a.pocket_decay_days


def _depth(run: Run, ledger: Ledger, time: float) -> float:
    if time <= run.installed:
        return 0.0
    gas = ledger.exposure(time) - ledger.exposure(run.installed)
    water = ledger.dissolved_in(time) - ledger.dissolved_in(run.installed)
    return max(run.per_exposure * gas + run.per_dissolved * water, 0.0)


def _tails(runs: list[Run], depths: list[float], theta: list[float]) -> list[float]:
    """Leaks expected in a system for each multiplier."""
    reduced = [run.reach / max(depth, 1e-12) for run, depth in zip(runs, depths, strict=True)]
    weights = [run.weight for run in runs]
    expected = []
    for node in theta:
        total = 0.0
        for q, weight in zip(reduced, weights, strict=True):
            tail = math.exp(-min(q / node, 80.0))
            total += weight * tail / (1.0 - tail)
        expected.append(total)
    return expected


def assess(system: SystemInput, horizons: tuple[float, ...] = HORIZONS) -> Result:
    runs, consumption = _runs(system)
    ledger = Ledger(system, consumption)
    theta = _nodes(system)
    now_gas, now_water = ledger.exposure(system.now_yr), ledger.dissolved_in(system.now_yr)
    clean = [(ledger.exposure(r.installed), ledger.dissolved_in(r.installed)) for r in runs]

    def depths(gas: float, water: float) -> list[float]:
        return [
            max(r.per_exposure * (gas - g) + r.per_dissolved * (water - w), 0.0)
            for r, (g, w) in zip(runs, clean, strict=True)
        ]

    def expected_at(time: float) -> list[float]:
        return _tails(runs, depths(ledger.exposure(time), ledger.dissolved_in(time)), theta)

    today = depths(now_gas, now_water)
    expected = _tails(runs, today, theta)
    since = min(system.installed_yr + system.assumptions.leaks_unknown_years, system.now_yr)
    until = max(system.now_yr - MEAN_DATING * system.assumptions.leak_dating_years, since)
    explained = [min(leak.found_yr, system.now_yr) for leak in _explained(system)]
    survived = expected_at(max([until, *explained]))
    if system.assumptions.leaks_unknown_years:
        survived = [e - u for e, u in zip(survived, expected_at(since), strict=True)]
    belief = _posterior(system, runs, ledger, theta, survived)
    outside = _outside_rate(system)
    probability, least = [], 0.0
    for horizon in horizons:
        time = system.now_yr + horizon
        later = expected_at(time)
        leaks = -sum(
            b * math.expm1(min(e - x, 0.0)) for b, e, x in zip(belief, expected, later, strict=True)
        )
        other = -math.expm1(-outside * horizon)
        least = max(least, min(max(leaks + other - leaks * other, 0.0), 1.0))
        probability.append(least)
    hazard = -math.log1p(-min(probability[horizons.index(5.0)], CERTAIN))
    bands = [_quantile(belief, theta, p) for p in QUANTILES]
    return Result(
        leak_probability=probability,
        score=-100 * math.expm1(-CONSEQUENCE_MULTIPLIER[system.consequence_class] * hazard),
        life=[_time_at(horizons, probability, p) for p in QUANTILES],
        theta=bands,
        run_loss=[
            [min(max(t * d - r.zinc, 0.0), r.wall) for t in bands]
            for r, d in zip(runs, today, strict=True)
        ],
    )


def _explained(system: SystemInput) -> list[Leak]:
    """Leaks on runs the oxygen model covers, or on a run not known where it covers any."""
    covered = {i for i, run in enumerate(system.runs) if run.material in IN_MODEL}
    return [k for k in system.leaks if k.run in covered or (k.run is None and covered)]


def _outside_rate(system: SystemInput) -> float:
    outside = [i for i, run in enumerate(system.runs) if run.material not in IN_MODEL]
    whole = len(outside) == len(system.runs)
    leaks = sum(k.run in outside or (k.run is None and whole) for k in system.leaks)
    return leaks / max(system.now_yr - system.installed_yr, 1.0)


def _nodes(system: SystemInput) -> list[float]:
    a = system.assumptions
    high = REACH * a.theta_spread
    low = -high
    if system.has_pools:
        low = min(low, math.log(a.drained_multiplier) - REACH_BELOW * a.drained_spread)
    return [math.exp(low + (high - low) * i / (NODES - 1)) for i in range(NODES)]


def _log_prior(system: SystemInput, theta: list[float]) -> list[float]:
    a = system.assumptions
    share = a.drained_share if system.has_pools else 0.0
    for found, count in ((1, system.found_wet), (0, system.found_clear)):
        for _ in range(count):
            holds = a.traces_if_holding if found else 1 - a.traces_if_holding
            drains = a.traces_if_drained if found else 1 - a.traces_if_drained
            share = share * drains / (share * drains + (1 - share) * holds)
    centre, density = math.log(a.drained_multiplier), []
    for node in theta:
        z, low = math.log(node) / a.theta_spread, (math.log(node) - centre) / a.drained_spread
        holding = math.exp(-0.5 * z * z) / a.theta_spread
        draining = math.exp(-0.5 * low * low) / a.drained_spread
        density.append(max((1 - share) * holding + share * draining, 1e-300))
    return [math.log(d / sum(density)) for d in density]


def _posterior(
    system: SystemInput,
    runs: list[Run],
    ledger: Ledger,
    theta: list[float],
    survived: list[float],
) -> list[float]:
    score = [s - e for s, e in zip(_log_prior(system, theta), survived, strict=True)]
    for evidence in (_walls, _coupons, _leaks):
        for row in evidence(system, runs, ledger, theta):
            score = [s + r for s, r in zip(score, row, strict=True)]
    top = max(score)
    weights = [math.exp(s - top) for s in score]
    total = sum(weights)
    return [w / total for w in weights]


def _walls(system, runs, ledger, theta):
    a = system.assumptions
    for reading in system.walls:
        run = runs[reading.run]
        depth = _depth(run, ledger, reading.at_yr)
        if reading.is_least_of_scan:
            depth *= a.pit_location + EULER_GAMMA * a.pit_scale
        reading_spread = a.wall_reading_spread
        if reading.error_m is not None:
            reading_spread = math.hypot(reading.error_m / reading.remaining_m, a.mill_spread)
        row = []
        for node in theta:
            loss = max(depth * node - run.zinc, 0.0)
            left = max(run.wall - loss, 0.02 * run.wall)
            spread = math.hypot(reading_spread, a.local_spread * min(loss, run.wall) / left)
            off = math.log(reading.remaining_m / left) / spread
            row.append(-0.5 * off * off - math.log(spread))
        yield row


def _coupons(system, runs, ledger, theta):
    for reading in system.coupons:
        run = runs[reading.run]
        grown = _depth(run, ledger, reading.to_yr) - _depth(run, ledger, reading.from_yr)
        rate = max(grown, 1e-9) / (reading.to_yr - reading.from_yr)
        spread = system.assumptions.coupon_spread
        yield [-0.5 * (math.log(reading.rate_m_per_yr / (rate * t)) / spread) ** 2 for t in theta]


def _leaks(system, runs, ledger, theta):
    a = system.assumptions
    for leak in system.leaks:
        chosen = range(len(runs)) if leak.run is None else [leak.run]
        if not any(system.runs[i].material in IN_MODEL for i in chosen):
            continue
        row = [a.leak_dating_years * a.other_leaks_per_year] * len(theta)
        for i in chosen:
            opened = _tails([runs[i]], [_depth(runs[i], ledger, leak.found_yr)], theta)
            since = leak.found_yr - a.leak_dating_years
            before = _tails([runs[i]], [_depth(runs[i], ledger, since)], theta)
            row = [r + max(o - b, 0.0) for r, o, b in zip(row, opened, before, strict=True)]
        yield [math.log(r) for r in row]


def _log_odds(p: float) -> float:
    return math.log(p) - math.log1p(-p)


def _quantile(weights: list[float], values: list[float], wanted: float) -> float:
    middles, total = [], 0.0
    for weight in weights:
        total += weight
        middles.append(min(max(total - 0.5 * weight, 1e-12), 1 - 1e-12))
    above = min(max(sum(m < wanted for m in middles), 1), len(middles) - 1)
    low, high = _log_odds(middles[above - 1]), _log_odds(middles[above])
    share = min(max((_log_odds(wanted) - low) / max(high - low, 1e-300), 0.0), 1.0)
    return math.exp((1 - share) * math.log(values[above - 1]) + share * math.log(values[above]))


def _time_at(horizons: tuple[float, ...], probability: list[float], wanted: float) -> float:
    hazard = [max(-math.log1p(-min(p, CERTAIN)), 1e-300) for p in probability]
    target = -math.log1p(-wanted)
    reached = sum(h < target for h in hazard)
    if reached == 0:
        return horizons[0] * min(target / hazard[0], 1.0)
    if reached == len(horizons):
        return horizons[-1]
    low, high = math.log(hazard[reached - 1]), math.log(hazard[reached])
    share = min(max((math.log(target) - low) / max(high - low, 1e-12), 0.0), 1.0)
    return math.exp(
        (1 - share) * math.log(horizons[reached - 1]) + share * math.log(horizons[reached])
    )
