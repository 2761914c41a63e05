"""How likely each run is to leak within five years, by every way it can."""

import numpy as np

from registry.corrosion.assess import Assessments, outlook
from registry.corrosion.batch import Batch
from registry.corrosion.spots import chance_through
from registry.corrosion.types import Array


def run_chances(batch: Batch, base: Assessments) -> Array:
    """Probability of a leak on each run of one system within five years, (runs,).

    Notes: runs are judged one by one under the belief about the whole system; together they are
    less likely than their product says, because they share theta and the sites.
    """
    ahead = outlook(batch, np.array([5.0]), base.belief)
    attack, belief, theta = ahead.attack, ahead.belief, ahead.theta
    runs = np.arange(batch.runs.wall_m.size)
    s = batch.systems
    times = s.now_yr[:, None] + np.array([0.0, 5.0])
    grown = attack.run_intensity(runs, ahead.depths[1], theta) - attack.run_intensity(
        runs, ahead.depths[0], theta
    )
    held = np.exp(-np.maximum(grown, 0.0))
    held[ahead.seen.run] = (belief.own * np.exp(-ahead.read[0])).sum(axis=2)
    now, then = (attack.fed(runs, np.full(runs.size, at)) for at in times[0])
    sites = np.maximum(attack.through(runs, then) - attack.through(runs, now), 0.0)
    chance = np.zeros(runs.size)
    spots = _spots(batch, ahead, times[:, 1:])
    for row in runs:
        at = np.full(1, sites[row] * s.site_factor[0])
        if belief.leaky.size:
            none = float(belief.weights[0] @ (held[row] * np.exp(belief.leaky_survival(at)[0])))
        else:
            none = float(belief.weights[0] @ held[row] * np.exp(belief.site_survival(at)[0]))
        chance[row] = 1.0 - none * (1.0 - spots[row])
    return np.clip(chance, 0.0, 1.0)


def _spots(batch: Batch, ahead, times: Array) -> Array:  # type: ignore[no-untyped-def]
    worst = np.zeros(batch.runs.wall_m.size)
    if batch.walls.run.size:
        chance = chance_through(batch, ahead.attack, ahead.belief.spots, times)[0]
        np.maximum.at(worst, batch.walls.run, chance)
    return worst
