"""From evidence to belief: what was read, leaked, found or did not leak while somebody watched."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.attack import Attack
from registry.corrosion.batch import Batch
from registry.corrosion.belief import Belief
from registry.corrosion.mixture import Gammas, Leaky, gammas_of, leaky_of, log_sum, without_leaks
from registry.corrosion.prior import log_prior
from registry.corrosion.readings import expected_readings, is_of_this_pipe
from registry.corrosion.seen import LOG_PRIOR, Seen
from registry.corrosion.spots import spots_of
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

MEAN_DATING: Final = 0.5
"""A leak may have opened at any time within its dating alike, so half of it ago on average."""


def nodes_of(theta: Array, owner: Index) -> Array:
    """Node rows for each element of `owner`, without copying when all systems share one row."""
    return theta if theta.shape[0] == 1 else theta[owner]


def watched(batch: Batch) -> tuple[Array, Array]:
    """From when and until when no leak on record means that none opened, yr, each (systems,).

    From when leaks would be on record, not before the pipe, until as long ago as a leak found today
    opened on average: what opened since then need not have been found yet. So what happened lately
    cannot speak for the pipe. A leak that was found shows that somebody looked until then.
    """
    s, leaks, assumed = batch.systems, batch.leaks, batch.assumptions
    known = np.where(np.isnan(s.leaks_known_from_yr), np.inf, s.leaks_known_from_yr)
    since = np.minimum(np.maximum(s.installed_yr, known), s.now_yr)
    end = np.minimum(s.now_yr, s.watched_until_yr)
    until = np.maximum(since, end - MEAN_DATING * np.asarray(assumed.leak_dating_years))
    found = np.minimum(leaks.found_yr, s.now_yr[leaks.system])
    np.maximum.at(until, leaks.system, np.maximum(found, since[leaks.system]))
    return since, until


@dataclass(frozen=True)
class Watched:
    """What was expected while leaks would have been on record: by the oxygen ledger on runs never
    read (systems, nodes) and on those read (read runs, nodes, factors), and of sites (systems,)."""

    unread: Array
    read: Array
    sites: Array


def belief_of(batch: Batch, attack: Attack, theta: Array, seen: Seen, over: Watched) -> Belief:
    """Everything that is believed after all evidence.

    Notes: three steps. Without wall readings: prior, watched years, coupons and leaks. Each wall
    reading is then held against that: how likely one so thin was. What the ledger cannot explain
    speaks for sites of attack without oxygen. Last, readings reweight theta and their run's factor.
    """
    plain = log_prior(batch, theta, with_findings=True) - over.unread
    if batch.coupons.system.size:
        _add_rows(plain, batch.coupons.system, coupon_log_likelihood(batch, attack, theta))
    gammas = gammas_of(batch)
    odds = gammas.log_odds + batch.systems.sign_log_odds
    own = LOG_PRIOR - over.read
    readings = expected_readings(batch, attack, seen, theta)
    counts = is_of_this_pipe(batch)[:, None, None]
    read = own.copy()
    np.add.at(read, seen.of_wall, np.where(counts, readings.log_likelihood(), 0.0))
    before, after = log_sum(own, (2,)), log_sum(read, (2,))
    own, read = np.exp(own - before[:, :, None]), np.exp(read - after[:, :, None])
    leaky = _leaky(batch, attack, theta, seen, read)
    without, active = _without_readings(plain, before, seen, leaky, gammas, odds, over.sites)
    given = without[batch.walls.system][:, :, None] * own[seen.of_wall]
    thinner = np.clip((given * readings.chance_of_thinner()).sum(axis=(1, 2)), 1e-300, 1.0)
    odds = odds + _unexplained(batch, seen, thinner)
    score = plain
    np.add.at(score, seen.system, after)
    terms = leaky.log_terms(gammas, odds, over.sites)
    total = log_sum(terms, (2, 3))
    score[leaky.system] += total
    weights = _normal(score)
    terms = np.exp(terms - total[:, :, None, None])
    sites = without_leaks(gammas, odds, over.sites)
    found = sites[:, 1].copy()
    found[leaky.system] = (weights[leaky.system] * terms[:, :, 1].sum(axis=2)).sum(axis=1)
    believed = (without * theta).sum(axis=1)[batch.walls.system]
    other = _other_cause(batch, active, thinner)
    return Belief(
        weights=weights,
        own=read,
        gammas=gammas,
        sites=sites,
        active=found,
        watched=over.sites,
        leaky=leaky.system,
        terms=terms,
        spots=spots_of(batch, attack, believed, other),
        thinner=thinner,
        thicker=_thicker(readings.chance_of_thinner(), given),
        wall_system=batch.walls.system,
        read_system=seen.system,
    )


def _thicker(chance: Array, given: Array) -> Array:
    result: Array = np.clip(1.0 - (given * chance).sum(axis=(1, 2)), 0.0, 1.0)
    return result


def _without_readings(
    plain: Array,
    before: Array,
    seen: Seen,
    leaky: Leaky,
    gammas: Gammas,
    odds: Array,
    watched_sites: Array,
) -> tuple[Array, Array]:
    """Weights of theta, and the chance of active, before wall readings."""
    score = plain.copy()
    np.add.at(score, seen.system, before)
    terms = leaky.log_terms(gammas, odds, watched_sites)
    total = log_sum(terms, (2, 3))
    score[leaky.system] += total
    weights = _normal(score)
    active = without_leaks(gammas, odds, watched_sites)[:, 1].copy()
    shares = np.exp(log_sum(terms[:, :, 1], (2,)) - total)
    active[leaky.system] = (weights[leaky.system] * shares).sum(axis=1)
    return weights, active


def _normal(score: Array) -> Array:
    weights = np.exp(score - score.max(axis=1, keepdims=True))
    result: Array = weights / weights.sum(axis=1, keepdims=True)
    return result


def _unexplained(batch: Batch, seen: Seen, thinner: Array) -> Array:
    """What readings too thin for the oxygen ledger add to the log odds of active, (systems,).

    Notes: (T + q_active)/(T + q_quiet), T the chance of one so thin; of each run its thinnest.
    """
    w, total = batch.walls, np.zeros(batch.size)
    if not w.run.size:
        return total
    mine = batch.assumptions.for_systems(w.system)
    ratio = np.log(thinner + mine.site_read_if_active) - np.log(thinner + mine.site_read_if_quiet)
    worst = np.full(seen.size, -np.inf)
    np.maximum.at(worst, seen.of_wall, np.where(is_of_this_pipe(batch), ratio, 0.0))
    np.add.at(total, seen.system, worst)
    return total


def _other_cause(batch: Batch, active: Array, thinner: Array) -> Array:
    """Chance that the spot of each reading is a site of attack without oxygen, (readings,)."""
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    share = active[w.system]
    on_site = share * mine.site_read_if_active + (1.0 - share) * mine.site_read_if_quiet
    result: Array = on_site / (on_site + thinner)
    return result


def _add_rows(total: Array, owner: Index, rows: Array) -> None:
    """Add each row to its owner's; owners are sorted."""
    if owner.size:
        begins = np.flatnonzero(np.diff(owner, prepend=-1))
        total[owner[begins]] += np.add.reduceat(rows, begins, axis=0)


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


def _leaky(batch: Batch, attack: Attack, theta: Array, seen: Seen, read: Array) -> Leaky:
    """What was to open in the time before each leak was found, by either channel.

    Notes: a run that was read counts with the mean over its factor; with several leaks on one such
    run that is an approximation, held against brute quadrature by the tests.
    """
    k = batch.leaks
    if not k.system.size:
        return Leaky(k.system, np.zeros((0, theta.shape[1], 1)), np.zeros((0, theta.shape[1])))
    mine = batch.assumptions.for_systems(k.system)
    window = np.broadcast_to(np.asarray(mine.leak_dating_years), k.found_yr.shape)
    leak, run = _runs_of_leaks(batch, attack)
    found = k.found_yr[leak]
    since = found - window[leak]
    nodes = nodes_of(theta, k.system[leak])
    depth = attack.depth(run, found), attack.depth(run, since)
    opened = attack.run_intensity(run, depth[0], nodes) - attack.run_intensity(run, depth[1], nodes)
    of_read = np.full(batch.runs.wall_m.size, -1)
    of_read[seen.run] = np.arange(seen.size)
    pair = np.flatnonzero(of_read[run] >= 0)
    if pair.size:
        opened[pair] = _opened_where_read(
            attack, seen, theta, read, of_read[run[pair]], depth, pair
        )
    oxygen = np.repeat((window * mine.other_leaks_per_year)[:, None], theta.shape[1], axis=1)
    _add_rows(oxygen, leak, np.maximum(opened, 0.0))
    fed = attack.through(run, attack.fed(run, found)) - attack.through(run, attack.fed(run, since))
    other = np.zeros(k.found_yr.size)
    np.add.at(other, leak, np.maximum(fed, 0.0))
    return leaky_of(k.system, oxygen, other)


def _opened_where_read(
    attack: Attack,
    seen: Seen,
    theta: Array,
    read: Array,
    row: Index,
    depth: tuple[Array, Array],
    pair: Index,
) -> Array:
    run = seen.run[row]
    nodes = seen.multipliers(theta)[row]
    many = nodes.shape[1:]
    flat = nodes.reshape(row.size, -1)
    late, early = (attack.run_intensity(run, d[pair], flat).reshape(-1, *many) for d in depth)
    result: Array = (read[row] * (late - early)).sum(axis=2)
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
