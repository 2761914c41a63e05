"""How deep each run is attacked, for a system multiplier of 1, and how many leaks that means."""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from registry.corrosion.batch import Batch, first_run_of
from registry.corrosion.constants import GAS_CONSTANT, MOLAR_MASS_OXYGEN
from registry.corrosion.exposure import Exposure, WaterDoses, build_water
from registry.corrosion.history import clock_of, exposure_of, gas_rows, otherwise, water_rows
from registry.corrosion.leaks import (
    SINGLE,
    AnyFloats,
    Precision,
    patch_tail,
    per_system,
    system_intensities,
)
from registry.corrosion.normal import normal_cdf
from registry.corrosion.pockets import dissolved_depth, pocket_decay, pocket_share, pressed_fill
from registry.corrosion.pools import oxygen_supply, pool_consumption, pool_rate, pool_uptake
from registry.corrosion.rates import steel_depth_per_oxygen, zinc_as_steel_depth
from registry.corrosion.sites import feeding_years, site_share
from registry.corrosion.timeline import Index, Stretches, Timeline
from registry.corrosion.types import Array
from registry.corrosion.waterline import half_reach, segment_angle

LEAST_DEPTH: Final = 1e-12
"""Depths below a picometre count as one, so that nothing is divided by zero."""

LEAST_CLOCK: Final = 1e-9
"""Years below which a site has not begun."""

UNCHANGED_DEPTH: Final = 1e-3
"""Depth at which the power of the dose changes nothing, m."""


@dataclass(frozen=True)
class Attack:
    """Everything about a batch that does not depend on what is believed.

    per_exposure: depth per year of pure oxygen [m/yr]; per_dissolved: depth per kg/m3 of bore [m];
    per_year: depth by water made up all the time [m/yr]; zinc_m: steel depth the zinc stands for;
    reach_m: pit depth that leaks; patches: independent patches of attacked strip; scale: Gumbel
    scale over mean depth; head: location over scale; exponent of the dose. Of attack without
    oxygen: clock; share of a middling system's sites; half_yr, fed years by which half of the sites
    are through; spread, of its logarithm.
    """

    run_system: Index
    installed_yr: Array
    per_exposure: Array
    per_dissolved: Array
    per_year: Array
    zinc_m: Array
    reach_m: Array
    patches: Array
    head: Array
    scale: Array
    exponent: Array | float
    exposure: Exposure
    water: WaterDoses
    clock: Exposure
    share: Array
    half_yr: Array
    spread: Array
    first: Index
    count: Index

    @cached_property
    def gas_before(self) -> Array:
        """Exposure of each run's place before it was installed."""
        return self.exposure.at(np.arange(self.run_system.size), self.installed_yr)

    @cached_property
    def fed_before(self) -> Array:
        return self.clock.at(np.arange(self.run_system.size), self.installed_yr)

    def depth(self, run: Index, time: Array) -> Array:
        """Mean depth of attack at `time` [yr] on `run`, both (n,), for theta 1, zinc included."""
        system, since = self.run_system[run], self.installed_yr[run]
        gas = self.exposure.at(run, time) - self.gas_before[run]
        water = self.water.at(system, time) - self.water.at(system, since)
        depth = self.per_exposure[run] * gas + self.per_dissolved[run] * water
        depth = depth + self.per_year[run] * (time - since)
        return self._powered(np.where(time > since, np.maximum(depth, 0.0), 0.0), run)

    def depths(self, times: Array) -> Array:
        """Mean depth of every run at times (systems, n): an array (n, runs)."""
        at = np.take(times.T, self.run_system, axis=1)
        gas = self.exposure.at(slice(None), at)
        water = np.take(self.water.at(slice(None), times.T), self.run_system, axis=1)
        gas -= self.gas_before
        water -= self.water.at(self.run_system, self.installed_yr)
        gas *= self.per_exposure
        water *= self.per_dissolved
        gas += water
        gas += self.per_year * (at - self.installed_yr)
        return self._powered(np.maximum(gas, 0.0, out=gas), slice(None))

    def _powered(self, depth: Array, run: Index | slice) -> Array:
        if np.ndim(self.exponent) == 0 and self.exponent == 1.0:
            return depth
        power = self.exponent[run] if isinstance(self.exponent, np.ndarray) else self.exponent
        result: Array = UNCHANGED_DEPTH * (depth / UNCHANGED_DEPTH) ** power
        return result

    def fed(self, run: Index, time: Array) -> Array:
        """Years for which sites on `run` were fed by `time`, both (n,)."""
        return np.maximum(self.clock.at(run, time) - self.fed_before[run], 0.0)

    def through(self, run: Index | slice, fed: Array) -> Array:
        """Share of a middling system's sites that are on `run` and through after `fed` years."""
        z = np.log(np.maximum(fed, LEAST_CLOCK) / self.half_yr[run]) / self.spread[run]
        result: Array = self.share[run] * normal_cdf(z)
        return result

    def sites(self, times: Array) -> Array:
        """The same of every system at times (systems, n): an array (n, systems)."""
        fed = self.clock.at(slice(None), np.take(times.T, self.run_system, axis=1))
        fed -= self.fed_before
        through = self.through(slice(None), fed)
        return per_system(through.T, self.first, self.count).T

    def reduced(self, depth: Array, run: Index | slice = slice(None)) -> Array:
        """Wall over (Gumbel scale times depth); `depth` (..., n) on rows `run` (n,)."""
        result: Array = self.reach_m[run] / (self.scale[run] * np.maximum(depth, LEAST_DEPTH))
        return result

    def weight(self, run: Index | slice) -> Array:
        """Patches times exp(location/scale): what a Gumbel tail of exp(-q) has to be scaled by."""
        result: Array = self.patches[run] * np.exp(self.head[run])
        return result

    def run_intensity(self, run: Index, depth: Array, theta: Array) -> Array:
        """Leaks expected on `run` once its mean depth is `depth`, both (n,): (n, nodes)."""
        tails = patch_tail(self.reduced(depth, run)[:, None] / theta)
        return self.weight(run)[:, None] * tails

    def intensities(
        self,
        depths: Array,
        theta: Array,
        precision: Precision = SINGLE,
        without: Index | None = None,
    ) -> AnyFloats:
        """Leaks expected in each system once its runs are `depths` (times, runs) deep.

        Parameters: theta (1 or systems, nodes); without, runs that do not count. Returns: (times,
        nodes, systems).
        """
        reduced = self.reduced(depths)
        weight = self.weight(slice(None))
        if without is not None:
            weight[without] = 0.0
        return system_intensities(reduced, weight, theta, self.first, self.count, precision)


def attack_of(batch: Batch) -> Attack:
    """Coefficients of every run and the ledger of every run."""
    s, r, a = batch.systems, batch.runs, batch.assumptions
    mine = a.for_systems(r.system)
    pools, wetted = s.has_pools[r.system], otherwise(r.wetted, mine.wetted_pools)
    supply = np.asarray(oxygen_supply(s.pressure_pa, s.temperature_k))
    density = s.pressure_pa * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * s.temperature_k)
    over_pools = pool_rate(supply[r.system], r.bore_m, fill=mine.pool_fill, film=mine.rust_film_m)
    in_pools = _pool_consumption(batch, supply[r.system], wetted)[r.system]
    pressed = np.asarray(pressed_fill(a.pocket_fill, s.atmosphere_pa, s.pressure_pa))
    span = np.asarray(segment_angle(1.0 - pressed))[r.system]
    fill = pressed[r.system]
    in_pockets = pocket_decay(
        supply[r.system], r.bore_m, span, fill=fill, film=mine.rust_film_m,
        density=density[r.system],
    )  # fmt: skip
    strip = np.asarray(half_reach(r.bore_m, span, mine.rust_film_m))
    section = fill * np.pi / 4.0 * r.bore_m**2
    a_fill = density[r.system] * section / (4.0 * strip) * steel_depth_per_oxygen()
    taken = np.where(pools, in_pools, in_pockets)
    share = np.where(pools, wetted, _pocket_length(batch))
    zinc = np.where(r.has_zinc, zinc_as_steel_depth(mine.zinc_per_surface), 0.0)
    per_dissolved = np.where(pools, 0.0, dissolved_depth(1.0, r.bore_m)) * r.in_model
    first, count = first_run_of(batch)
    return Attack(
        run_system=r.system,
        installed_yr=r.installed_yr,
        per_exposure=np.where(pools, over_pools, a_fill * in_pockets) * r.in_model,
        per_dissolved=per_dissolved,
        per_year=per_dissolved * mine.topup_per_year * s.dissolved_kg_m3[r.system],
        zinc_m=zinc,
        reach_m=r.joint_wall_m + zinc,
        patches=r.length_m * share / mine.patch_length_m * r.in_model,
        head=np.broadcast_to(np.asarray(mine.pit_location) / mine.pit_scale, r.wall_m.shape),
        scale=np.broadcast_to(np.asarray(mine.pit_scale, dtype=np.float64), r.wall_m.shape),
        exponent=mine.dose_exponent if np.ndim(mine.dose_exponent) else float(a.dose_exponent),  # type: ignore[arg-type]
        exposure=exposure_of(gas_rows(batch), r.system, batch.size, taken),
        water=_water(batch),
        clock=clock_of(water_rows(batch), r.system, batch.size, feeding_years(batch)),
        share=site_share(batch, wetted),
        half_yr=r.wall_m / mine.site_rate_m_per_yr,
        spread=np.broadcast_to(np.asarray(mine.site_spread, dtype=np.float64), r.wall_m.shape),
        first=first,
        count=count,
    )


def _pocket_length(batch: Batch) -> Array:
    """Pocket per length of pipe, by role and vents."""
    s, r = batch.systems, batch.runs
    mine = batch.assumptions.for_systems(r.system)
    by_role = np.where(r.is_branch, mine.trapped_branch, mine.trapped_main)
    vented = np.where(s.is_vented[r.system], mine.vented_factor, 1.0)
    trapped = otherwise(r.trapped, by_role * vented)
    return np.asarray(pocket_share(trapped, mine.pocket_fill))


def _pool_consumption(batch: Batch, supply: Array, wetted: Array) -> Array:
    """Share of the gas-phase oxygen that the pools of each system take per year, 1/yr."""
    s, r = batch.systems, batch.runs
    mine = batch.assumptions.for_systems(r.system)
    taken = pool_uptake(supply, r.bore_m, fill=mine.pool_fill, film=mine.rust_film_m)
    uptake = np.asarray(taken) * wetted * r.length_m * r.in_model
    volume = np.pi / 4.0 * r.bore_m**2 * r.length_m
    first, count = first_run_of(batch)
    both = per_system(np.column_stack([uptake, volume]), first, count)
    return np.asarray(pool_consumption(both[:, 0], both[:, 1], s.pressure_pa, s.temperature_k))


def _water(batch: Batch) -> WaterDoses:
    """Oxygen that fills bring dissolved: at an assumed rate before the ledger and after now."""
    s, a = batch.systems, batch.assumptions
    fills = otherwise(s.future_fills, np.asarray(a.future_fills_wet, dtype=np.float64))
    spans = Timeline.of(batch.spans.system, batch.spans.start_yr, batch.size)
    silent = Stretches(
        unknown_from_yr=s.installed_yr,
        known_from_yr=np.where(spans.count > 0, spans.first_start, s.now_yr),
        unknown_rate=a.unknown_fills_per_year * s.dissolved_kg_m3,
        now_yr=s.now_yr,
        future_rate=fills * s.dissolved_kg_m3,
    )
    timeline = Timeline.of(batch.water.system, batch.water.at_yr, batch.size)
    return build_water(timeline=timeline, amount=batch.water.amount_kg_m3, silent=silent)
