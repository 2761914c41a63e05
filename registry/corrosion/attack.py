"""How deep each run is attacked, for a system multiplier of 1, and how many leaks that means."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.batch import Batch, first_run_of
from registry.corrosion.exposure import (
    Exposure,
    WaterDoses,
    build_exposure,
    build_water,
)
from registry.corrosion.leaks import (
    SINGLE,
    AnyFloats,
    Precision,
    patch_tail,
    per_system,
    system_intensities,
)
from registry.corrosion.pockets import dissolved_depth, pocket_share, strip_depth
from registry.corrosion.pools import (
    oxygen_supply,
    pool_consumption,
    pool_rate,
    pool_uptake,
)
from registry.corrosion.rates import zinc_as_steel_depth
from registry.corrosion.timeline import Index, Stretches, Timeline
from registry.corrosion.types import Array, Real

LEAST_DEPTH: Final = 1e-12
"""Depths below a picometre count as one, so that nothing is divided by zero."""


@dataclass(frozen=True)
class Attack:
    """Everything about a batch that does not depend on the multiplier theta.

    per_exposure: depth per year of pure oxygen [m/yr]; per_dissolved: depth per kg/m3 of bore [m];
    zinc_m: steel depth the zinc stands for; reach_m: pit depth that leaks; patches: independent
    patches of attacked strip; scale: Gumbel scale over mean depth; head: location over scale.
    """

    run_system: Index
    installed_yr: Array
    per_exposure: Array
    per_dissolved: Array
    zinc_m: Array
    reach_m: Array
    patches: Array
    head: Array
    scale: Array
    exposure: Exposure
    water: WaterDoses
    first: Index
    count: Index

    def depth(self, run: Index, time: Array) -> Array:
        """Mean depth of attack at `time` [yr] on `run`, both (n,), for theta 1, zinc included."""
        system, since = self.run_system[run], self.installed_yr[run]
        gas = self.exposure.at(system, time) - self.exposure.at(system, since)
        water = self.water.at(system, time) - self.water.at(system, since)
        depth = self.per_exposure[run] * gas + self.per_dissolved[run] * water
        result: Array = np.where(time > since, np.maximum(depth, 0.0), 0.0)
        return result

    def depths(self, times: Array) -> Array:
        """Mean depth of every run at times (systems, n): an array (n, runs)."""
        gas = np.take(self.exposure.at(slice(None), times.T), self.run_system, axis=1)
        water = np.take(self.water.at(slice(None), times.T), self.run_system, axis=1)
        gas -= self.exposure.at(self.run_system, self.installed_yr)
        water -= self.water.at(self.run_system, self.installed_yr)
        gas *= self.per_exposure
        water *= self.per_dissolved
        gas += water
        return np.maximum(gas, 0.0, out=gas)

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

    def intensities(self, depths: Array, theta: Array, precision: Precision = SINGLE) -> AnyFloats:
        """Leaks expected in each system once its runs are `depths` (times, runs) deep.

        Parameters: theta (1 or systems, nodes). Returns: (times, nodes, systems).
        """
        reduced = self.reduced(depths)
        weight = self.weight(slice(None))
        return system_intensities(reduced, weight, theta, self.first, self.count, precision)


def attack_of(batch: Batch) -> Attack:
    """Coefficients of every run and the oxygen ledger of every system."""
    s, r = batch.systems, batch.runs
    mine = batch.assumptions.for_systems(r.system)
    pools, wetted = s.has_pools[r.system], _or(r.wetted, mine.wetted_pools)
    supply = np.asarray(oxygen_supply(s.pressure_pa, s.temperature_k))[r.system]
    consumption = _consumption(batch, supply, wetted)
    over_pools = pool_rate(supply, r.bore_m, fill=mine.pool_fill, film=mine.rust_film_m)
    with_pockets = strip_depth(
        1.0,
        s.pressure_pa[r.system],
        s.temperature_k[r.system],
        r.bore_m,
        fill=mine.pocket_fill,
        film=mine.rust_film_m,
    ) * (365.25 / np.asarray(mine.pocket_decay_days))
    share = np.where(pools, wetted, _pocket_length(batch))
    zinc = np.where(r.has_zinc, zinc_as_steel_depth(mine.zinc_per_surface), 0.0)
    first, count = first_run_of(batch)
    exposure = _exposure(batch, consumption)
    return Attack(
        run_system=r.system,
        installed_yr=r.installed_yr,
        per_exposure=np.where(pools, over_pools, with_pockets) * r.in_model,
        per_dissolved=np.where(pools, 0.0, dissolved_depth(1.0, r.bore_m)) * r.in_model,
        zinc_m=zinc,
        reach_m=r.joint_wall_m + zinc,
        patches=r.length_m * share / mine.patch_length_m * r.in_model,
        head=np.broadcast_to(np.asarray(mine.pit_location) / mine.pit_scale, r.wall_m.shape),
        scale=np.broadcast_to(np.asarray(mine.pit_scale, dtype=np.float64), r.wall_m.shape),
        exposure=exposure,
        water=_water(batch, exposure),
        first=first,
        count=count,
    )


def _or(given: Array, assumed: Real) -> Array:
    result: Array = np.where(np.isnan(given), assumed, given)
    return result


def _pocket_length(batch: Batch) -> Array:
    """Pocket per length of pipe, by role, vents and the pressure that squeezes the gas."""
    s, r = batch.systems, batch.runs
    mine = batch.assumptions.for_systems(r.system)
    by_role = np.where(r.is_branch, mine.trapped_branch, mine.trapped_main)
    vented = np.where(s.is_vented[r.system], mine.vented_factor, 1.0)
    trapped = _or(r.trapped, by_role * vented)
    at, under = s.atmosphere_pa[r.system], s.pressure_pa[r.system]
    return np.asarray(pocket_share(trapped, at, under, mine.pocket_fill))


def _consumption(batch: Batch, supply: Array, wetted: Array) -> Array:
    """Share of the gas-phase oxygen each system's steel takes per year, 1/yr."""
    s, r, assumed = batch.systems, batch.runs, batch.assumptions
    mine = assumed.for_systems(r.system)
    taken = pool_uptake(supply, r.bore_m, fill=mine.pool_fill, film=mine.rust_film_m)
    uptake = np.asarray(taken) * wetted * r.length_m * r.in_model
    volume = np.pi / 4.0 * r.bore_m**2 * r.length_m
    first, count = first_run_of(batch)
    both = per_system(np.column_stack([uptake, volume]), first, count)
    pools = pool_consumption(both[:, 0], both[:, 1], s.pressure_pa, s.temperature_k)
    pockets = 365.25 / np.asarray(assumed.pocket_decay_days)
    return np.where(s.has_pools, pools, pockets)


def _exposure(batch: Batch, consumption: Array) -> Exposure:
    spans, s = batch.spans, batch.systems
    timeline = Timeline.of(spans.system, spans.start_yr, batch.size)
    turnover = np.where(s.has_pools[spans.system], spans.turnover_per_yr, 0.0)
    silent = Stretches(
        unknown_from_yr=s.installed_yr,
        known_from_yr=np.where(timeline.count > 0, timeline.first_start, s.now_yr),
        unknown_rate=_unknown_rate(batch, consumption),
        now_yr=s.now_yr,
        future_rate=_future_rate(batch, timeline, consumption, turnover),
    )
    return build_exposure(
        timeline=timeline,
        oxygen=spans.oxygen,
        makeup_oxygen=spans.makeup_oxygen,
        turnover_per_yr=turnover,
        consumption_per_yr=consumption,
        silent=silent,
    )


def _unknown_rate(batch: Batch, consumption: Array) -> Array:
    """Exposure per year before the ledger: fills spent in pockets, or supplied gas over pools."""
    a = batch.assumptions
    fills = a.unknown_fills_per_year * a.unknown_oxygen / _or_one(consumption)
    supply = np.asarray(a.unknown_turnover_per_year, dtype=np.float64)
    return np.where(batch.systems.has_pools, _settled(a.unknown_oxygen, supply, consumption), fills)


def _settled(makeup: Real, turnover: Real, consumption: Array) -> Array:
    """Oxygen fraction where supply and consumption meet; 0 where there is neither."""
    result: Array = np.asarray(makeup) * turnover / np.maximum(turnover + consumption, 1e-12)
    return result


def _or_one(consumption: Array) -> Array:
    """Consumption with zeros made harmless: such a system spends no oxygen on steel."""
    result: Array = np.where(consumption > 0, consumption, 1.0)
    return result


def _future_rate(batch: Batch, timeline: Timeline, consumption: Array, turnover: Array) -> Array:
    """Exposure per year from events still to come, on top of the last span running on."""
    return np.where(
        batch.systems.has_pools,
        _future_breaches(batch, timeline, consumption, turnover),
        _future_fills(batch, timeline, consumption),
    )


def _future_fills(batch: Batch, timeline: Timeline, consumption: Array) -> Array:
    """Water fills to expect, each with gas like the latest fill's unless given."""
    s, a = batch.systems, batch.assumptions
    latest = _of_last(timeline, batch.spans.oxygen, a.unknown_oxygen)
    fills = _or(s.future_fills, np.asarray(a.future_fills_wet, dtype=np.float64))
    return _or(s.future_oxygen, latest) * fills / _or_one(consumption)


def _future_breaches(
    batch: Batch, timeline: Timeline, consumption: Array, turnover: Array
) -> Array:
    """Breaches to expect, each decaying from air to where supply and consumption meet.

    A system without a ledger goes on as assumed before it, which is then part of the rate.
    """
    s, a = batch.systems, batch.assumptions
    supply = _of_last(timeline, turnover, a.unknown_turnover_per_year)
    makeup = _of_last(timeline, batch.spans.makeup_oxygen, a.unknown_oxygen)
    settled = _settled(makeup, supply, consumption)
    excess = np.maximum(_or(s.future_oxygen, np.asarray(a.unknown_oxygen)) - settled, 0.0)
    breaches = _or(s.future_fills, np.asarray(a.future_breaches_dry, dtype=np.float64))
    lasting = np.minimum(breaches / np.maximum(supply + consumption, 1e-12), 1.0)
    return excess * lasting + np.where(timeline.count > 0, 0.0, settled)


def _of_last(timeline: Timeline, column: Array, assumed: Real) -> Array:
    """Value of each system's last span, or what is assumed where there is none."""
    last = column[timeline.last] if column.size else np.zeros(timeline.last.size)
    return np.where(timeline.count > 0, last, assumed)


def _water(batch: Batch, exposure: Exposure) -> WaterDoses:
    s, a = batch.systems, batch.assumptions
    fills = _or(s.future_fills, np.asarray(a.future_fills_wet, dtype=np.float64))
    silent = replace(
        exposure.silent,
        unknown_rate=a.unknown_fills_per_year * s.dissolved_kg_m3,
        future_rate=fills * s.dissolved_kg_m3,
    )
    timeline = Timeline.of(batch.water.system, batch.water.at_yr, batch.size)
    return build_water(timeline=timeline, amount=batch.water.amount_kg_m3, silent=silent)
