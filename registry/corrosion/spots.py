"""A measured thin spot is a fact: how fast it goes on, and when it is through.

It leaks when what is left falls to the wall that holds pressure. It deepens with the oxygen that
comes, at the rate its own loss has shown or the believed one if that is faster; or, as far as the
oxygen ledger cannot explain a reading so thin, with the water that feeds a site. Every term rises
with a thinner reading, so the hazard of a spot does.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.attack import Attack
from registry.corrosion.batch import Batch
from registry.corrosion.constants import ALLOWABLE_STRESS
from registry.corrosion.normal import normal_cdf
from registry.corrosion.readings import (
    gauge_errors,
    is_of_this_pipe,
    plain_spread,
    true_losses,
)
from registry.corrosion.thickness import pressure_thickness
from registry.corrosion.types import Array

LEAST_DOSE: Final = 1e-9
"""Depth [m] or years fed below which a spot's loss cannot be laid to them."""

LEAST_AGE: Final = 0.1
"""Years; a loss in younger pipe was not corrosion of this pace."""

IN_DOUBT: Final = 2.0
"""Standard deviations of gauge and mill: a loss shows a pace of its own by what it is beyond them.
Without this, a wall that was rolled thin and read young grew as if all of it had been corrosion."""


@dataclass(frozen=True)
class Spots:
    """What is known of the spot of each reading, whatever the future. All (readings,).

    loss_m: metal lost; what of it is beyond doubt over the model's depth for theta 1 (per_depth),
    per fed year (per_fed), or a year where neither dose explains it (per_year); believed:
    multiplier believed without wall readings; other: chance that it is a site of attack without
    oxygen.
    """

    loss_m: Array
    per_depth: Array
    per_fed: Array
    per_year: Array
    believed: Array
    other: Array


def spots_of(batch: Batch, attack: Attack, believed: Array, other: Array) -> Spots:
    w = batch.walls
    loss = true_losses(batch)
    paced = np.maximum(loss - IN_DOUBT * plain_spread(batch), 0.0)
    dose, fed = attack.depth(w.run, w.at_yr), attack.fed(w.run, w.at_yr)
    age = np.maximum(w.at_yr - batch.runs.installed_yr[w.run], LEAST_AGE)
    has_dose, has_fed = dose > LEAST_DOSE, fed > LEAST_DOSE
    return Spots(
        loss_m=loss,
        per_depth=np.where(has_dose, paced / np.maximum(dose, LEAST_DOSE), 0.0),
        per_fed=np.where(has_fed, paced / np.maximum(fed, LEAST_DOSE), 0.0),
        per_year=np.where(has_dose | has_fed, 0.0, paced / age),
        believed=believed,
        other=other,
    )


def pressure_minimum(batch: Batch) -> Array:
    """Wall that still holds the pressure in service, (runs,): where a spot counts as leaking."""
    s, r = batch.systems, batch.runs
    gauge = np.maximum(s.pressure_pa - s.atmosphere_pa, 0.0)[r.system]
    outside = r.bore_m + 2.0 * r.wall_m
    needed = np.asarray(pressure_thickness(gauge, outside, ALLOWABLE_STRESS))
    least: Array = np.minimum(needed, 0.9 * r.wall_m)
    return least


def growth(batch: Batch, attack: Attack, spots: Spots, times: Array) -> tuple[Array, Array]:
    """Metal lost at each spot since it was read, by oxygen and by what needs none, if it is that.

    Parameters: times (systems, n). Returns: two arrays (n, readings), m.
    """
    w = batch.walls
    at = times.T[:, w.system]
    begin = attack.depth(w.run, w.at_yr)
    fed_before = attack.fed(w.run, w.at_yr)
    rows = np.broadcast_to(w.run, at.shape).ravel()
    deeper = np.maximum(attack.depth(rows, at.ravel()).reshape(at.shape) - begin, 0.0)
    fed = np.maximum(attack.fed(rows, at.ravel()).reshape(at.shape) - fed_before, 0.0)
    deeper = deeper * (attack.patches[w.run] > 0)
    fed = fed * (attack.share[w.run] > 0) * batch.systems.site_factor[w.system]
    years = np.maximum(at - w.at_yr, 0.0)
    mine = batch.assumptions.for_systems(w.system)
    by_oxygen = np.maximum(spots.per_depth, spots.believed) * deeper + spots.per_year * years
    by_water = np.maximum(spots.per_fed, mine.site_rate_m_per_yr) * fed
    return by_oxygen, np.maximum(by_oxygen, by_water)


def chance_through(batch: Batch, attack: Attack, spots: Spots, times: Array) -> Array:
    """Chance that the spot of each reading is through by each time, (n, readings).

    Notes: not given that it held so far: a spot that should be through by its own rate is due.
    """
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    wall = batch.runs.wall_m[w.run]
    left = wall - spots.loss_m - pressure_minimum(batch)[w.run]
    error = gauge_errors(batch)
    both = []
    for grown in growth(batch, attack, spots, times):
        spread = np.hypot(error, np.asarray(mine.local_spread) * grown)
        both.append(np.where(left <= 0, 1.0, normal_cdf((grown - left) / spread)))
    mixed = (1.0 - spots.other) * both[0] + spots.other * both[1]
    result: Array = np.where(is_of_this_pipe(batch), mixed, 0.0)
    return result


def log_survival(batch: Batch, attack: Attack, spots: Spots, times: Array) -> Array:
    """ln of the chance that no known spot is through by each time, (n, systems).

    Notes: of several readings of one run the worst counts, so that taking more readings is never
    held against a pipe; runs count apart.
    """
    w = batch.walls
    total = np.zeros((batch.size, times.shape[1]))
    if w.run.size:
        chance = chance_through(batch, attack, spots, times).T
        runs, of_wall = np.unique(w.run, return_inverse=True)
        worst = np.zeros((runs.size, times.shape[1]))
        np.maximum.at(worst, of_wall, chance)
        log = np.log1p(-np.minimum(worst, 1.0 - 1e-12))
        np.add.at(total, batch.runs.system[runs], log)
    return total.T


def walls_left(batch: Batch, attack: Attack, spots: Spots) -> Array:
    """Least wall left today at the known spots of each run, (runs,); infinite where none is."""
    least = np.full(batch.runs.wall_m.shape, np.inf)
    w = batch.walls
    if w.run.size:
        by_oxygen, _ = growth(batch, attack, spots, batch.systems.now_yr[:, None])
        left = np.maximum(batch.runs.wall_m[w.run] - spots.loss_m - by_oxygen[0], 0.0)
        np.minimum.at(least, w.run, np.where(is_of_this_pipe(batch), left, np.inf))
    return least
