"""What field evidence says about a system's own multiplier theta.

Theta multiplies every depth of attack in a system: water chemistry, deposits, bacteria, all that
the oxygen ledger does not know. Wall readings, coupons, dated leaks, findings inside the pipe and
the absence of leaks reweight a fixed grid of nodes; what the grid holds before is in `prior`.
"""

from typing import Final

import numpy as np

from registry.corrosion.attack import Attack
from registry.corrosion.batch import Batch
from registry.corrosion.pits import EULER_GAMMA
from registry.corrosion.prior import log_prior
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

MEAN_DATING: Final = 0.5
"""A leak may have opened at any time within its dating alike, so half of it ago on average."""

LEAST_WALL: Final = 0.02
"""Expected remaining wall is never taken below 2 % of the wall: a reading was possible."""


def nodes_of(theta: Array, owner: Index) -> Array:
    """Node rows for each element of `owner`, without copying when all systems share one row."""
    return theta if theta.shape[0] == 1 else theta[owner]


def watched(batch: Batch) -> tuple[Array, Array]:
    """From when and until when no leak on record means that none opened, yr, each (systems,).

    From installation unless assumed later, until as long ago as a leak found today opened on
    average: what opened since then need not have been found yet. So what happened lately cannot
    speak for the pipe. A leak that was found shows that somebody looked until then.
    """
    s, leaks, assumed = batch.systems, batch.leaks, batch.assumptions
    since = np.minimum(s.installed_yr + np.asarray(assumed.leaks_unknown_years), s.now_yr)
    until = np.maximum(since, s.now_yr - MEAN_DATING * np.asarray(assumed.leak_dating_years))
    np.maximum.at(until, leaks.system, np.minimum(leaks.found_yr, s.now_yr[leaks.system]))
    return since, until


def posterior_weights(batch: Batch, attack: Attack, theta: Array, survived: Array) -> Array:
    """Weights after all evidence, (systems, nodes), rows summing to 1.

    Parameters: survived (systems, nodes), leaks expected while the system was watched for them.
    Notes: a system that has outlived what was expected of it is taken for a mild one, the milder
    the more oxygen it has outlived. So between two pasts the worse one may score lower: no belief
    that counts the absence of leaks can do otherwise and be right as often as it says. Under one
    belief (reasons, costs, what-if), and for what happened within half the dating of a leak, with
    no leak or reading since, more oxygen never lowers a score.
    """
    score = log_prior(batch, theta, with_findings=True) - survived
    for owner, rows in (
        (batch.walls.system, wall_log_likelihood(batch, attack, theta)),
        (batch.coupons.system, coupon_log_likelihood(batch, attack, theta)),
        (batch.leaks.system, leak_log_likelihood(batch, attack, theta)),
    ):
        _add_rows(score, owner, rows)
    weights = np.exp(score - score.max(axis=1, keepdims=True))
    result: Array = weights / weights.sum(axis=1, keepdims=True)
    return result


def _add_rows(total: Array, owner: Index, rows: Array) -> None:
    """Add each row to its owner's; owners are sorted."""
    if owner.size:
        begins = np.flatnonzero(np.diff(owner, prepend=-1))
        total[owner[begins]] += np.add.reduceat(rows, begins, axis=0)


def wall_log_likelihood(batch: Batch, attack: Attack, theta: Array) -> Array:
    """Log-normal likelihood of each remaining-wall reading, (readings, nodes).

    Equation: ln m ~ N(ln m_0, s**2 + (v L/m_0)**2), m_0 = wall - L, L = theta h - zinc; for the
    least of a scanned patch theta h times the Gumbel mean (location + 0.577 scale). s is the
    spread of a reading: its stated error and the mill's tolerance, else as assumed; v that of
    depth from spot to spot.
    """
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    nodes = nodes_of(theta, w.system)
    mean = np.asarray(mine.pit_location) + EULER_GAMMA * np.asarray(mine.pit_scale)
    factor = np.where(w.is_least, mean, 1.0)
    depth = attack.depth(w.run, w.at_yr) * factor
    loss = np.maximum(depth[:, None] * nodes - attack.zinc_m[w.run][:, None], 0.0)
    wall = batch.runs.wall_m[w.run][:, None]
    expected = np.maximum(wall - loss, LEAST_WALL * wall)
    stated = np.hypot(w.error_m / w.remaining_m, mine.mill_spread)
    reading = np.where(np.isnan(w.error_m), mine.wall_reading_spread, stated)[:, None]
    local = np.broadcast_to(np.asarray(mine.local_spread), w.at_yr.shape)[:, None]
    spread = np.sqrt(reading**2 + (local * np.minimum(loss, wall) / expected) ** 2)
    off = np.log(w.remaining_m[:, None] / expected) / spread
    result: Array = -0.5 * off**2 - np.log(spread)
    return result


def coupon_log_likelihood(batch: Batch, attack: Attack, theta: Array) -> Array:
    """Log-normal likelihood of each coupon's rate against theta times the model's, (n, nodes)."""
    c = batch.coupons
    mine = batch.assumptions.for_systems(c.system)
    grown = attack.depth(c.run, c.to_yr) - attack.depth(c.run, c.from_yr)
    rate = np.maximum(grown, 1e-9) / (c.to_yr - c.from_yr)
    spread = np.broadcast_to(np.asarray(mine.coupon_spread), c.to_yr.shape)[:, None]
    nodes = nodes_of(theta, c.system)
    off = np.log(c.rate_m_per_yr[:, None] / (rate[:, None] * nodes)) / spread
    result: Array = -0.5 * off**2
    return result


def leak_log_likelihood(batch: Batch, attack: Attack, theta: Array) -> Array:
    """Log of the leaks expected to open in the time before each was found, (leaks, nodes).

    With the survival term of `posterior_weights` this is a Poisson process of leaks whose
    intensity is that of patches reaching through the wall, plus a low rate of other causes.
    """
    k = batch.leaks
    mine = batch.assumptions.for_systems(k.system)
    window = np.broadcast_to(np.asarray(mine.leak_dating_years), k.found_yr.shape)
    since = k.found_yr - window
    leak, run = _runs_of_leaks(batch, attack)
    nodes = nodes_of(theta, k.system[leak])
    opened = attack.run_intensity(run, attack.depth(run, k.found_yr[leak]), nodes)
    before = attack.run_intensity(run, attack.depth(run, since[leak]), nodes)
    expected = np.repeat((window * mine.other_leaks_per_year)[:, None], theta.shape[1], axis=1)
    _add_rows(expected, leak, np.maximum(opened - before, 0.0))
    result: Array = np.log(expected)
    return result


def _runs_of_leaks(batch: Batch, attack: Attack) -> tuple[Index, Index]:
    """Pairs (leak, run) to consider: its run, or every run of the system when not known."""
    k = batch.leaks
    many = np.where(k.run >= 0, 1, attack.count[k.system])
    begin = np.where(k.run >= 0, k.run, attack.first[k.system])
    leak = np.repeat(np.arange(k.system.size), many)
    step = np.arange(leak.size) - np.repeat(np.cumsum(many) - many, many)
    return leak, begin[leak] + step


def weighted_quantiles(weights: Array, values: Array, wanted: tuple[float, ...]) -> Array:
    """Quantiles of a grid distribution in each row, (rows, wanted).

    Equation: ln(value) is linear in the log-odds of the cumulative probability at node middles,
    which is nearly exact for bell-shaped beliefs and monotone for any.
    """
    middles = np.clip(np.cumsum(weights, axis=1) - 0.5 * weights, 1e-12, 1.0 - 1e-12)
    log_values = np.broadcast_to(np.log(values), weights.shape)
    return np.stack([_quantile(middles, log_values, p) for p in wanted], axis=1)


def _quantile(middles: Array, log_values: Array, probability: float) -> Array:
    above = np.clip((middles < probability).sum(axis=1), 1, middles.shape[1] - 1)
    row = np.arange(middles.shape[0])
    low, high = (_log_odds(middles[row, at]) for at in (above - 1, above))
    share = (_log_odds(np.float64(probability)) - low) / np.maximum(high - low, 1e-300)
    share = np.clip(share, 0.0, 1.0)
    at = (1.0 - share) * log_values[row, above - 1] + share * log_values[row, above]
    result: Array = np.exp(at)
    return result


def _log_odds(probability: Array | np.float64) -> Array:
    result: Array = np.log(probability) - np.log1p(-probability)
    return result
