"""The assessment of many systems at once, and of one as a batch of one.

`assess_many` works through the batch in blocks that stay in cache, on as many threads as asked.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.attack import Attack, attack_of
from registry.corrosion.batch import Batch, Flags
from registry.corrosion.belief import Belief, joined_beliefs
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import Watched, belief_of, watched, weighted_quantiles
from registry.corrosion.inputs import SystemInput
from registry.corrosion.leaks import SINGLE, Precision
from registry.corrosion.prior import theta_nodes
from registry.corrosion.score import (
    BANDS,
    band_index,
    likelihood_level,
    score_of,
    time_quantiles,
)
from registry.corrosion.seen import Seen, seen_runs
from registry.corrosion.spots import log_survival, walls_left
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

HORIZONS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0)
"""Years ahead. One and five must be among them; the last is where "beyond" begins."""

QUANTILES: Final = (0.1, 0.5, 0.9)
BLOCK: Final = 1024
"""Systems worked on at once: enough to make the cost of a call small, few enough for the cache."""


@dataclass(frozen=True)
class Assessments:
    """Results of a batch. Rows of systems and runs are those of the batch.

    leak_probability: of a first (or next) leak within each horizon, (systems, horizons);
    life_yr: years until that probability is 10, 50, 90 %, (systems, 3), the last horizon if later;
    theta: 10, 50, 90 % of the multiplier; weights: its posterior, (systems, nodes);
    run_loss_m: 10, 50, 90 % of mean wall lost on the attacked strip by now, (runs, 3);
    run_depth_m: the same for theta 1 with zinc counted as steel, (runs,); run_depth_next_m: in a
    year's time, by when what was let in so far is spent;
    by_oxygen, by_sites, by_spots: probability of a leak within five years by each alone;
    run_left_m: wall left today, (runs,): at the median loss, or at a known thin spot if that is
    less, and then run_is_measured; in_model: whether the oxygen ledger speaks of any run.
    """

    horizons_yr: Array
    leak_probability: Array
    by_oxygen: Array
    by_sites: Array
    by_spots: Array
    hazard: Array
    score: Array
    band: Index
    likelihood: Index
    life_yr: Array
    theta: Array
    weights: Array
    belief: Belief
    run_loss_m: Array
    run_left_m: Array
    run_is_measured: Flags
    run_depth_m: Array
    run_depth_next_m: Array
    in_model: Flags

    @property
    def size(self) -> int:
        return int(self.score.size)

    def band_name(self, system: int) -> str:
        return BANDS[int(self.band[system])]


def assess_many(
    batch: Batch,
    *,
    horizons: tuple[float, ...] = HORIZONS,
    belief: Belief | None = None,
    workers: int = 1,
    precision: Precision = SINGLE,
    block: int = BLOCK,
) -> Assessments:
    """Assess every system of a batch.

    Parameters: horizons [yr], ascending, 1 and 5 among them; belief, to use instead of the evidence
    in the batch, for comparing histories under one belief; workers, threads; precision of the sums
    over patches.
    """
    ascends = list(horizons) == sorted(set(horizons)) and horizons[0] > 0
    if not ascends or not {1.0, 5.0} <= set(horizons):
        raise ValueError(f"horizons is {horizons!r}; it must ascend from above 0, hold 1 and 5")
    edges = range(0, batch.size, block)

    def one(begin: int) -> Assessments:
        end = min(begin + block, batch.size)
        if end - begin == batch.size:
            return _assess_block(batch, np.array(horizons), belief, precision)
        given = None if belief is None else belief.part(begin, end)
        return _assess_block(batch.part(begin, end), np.array(horizons), given, precision)

    if workers > 1 and len(edges) > 1:
        with ThreadPoolExecutor(workers) as pool:
            return _joined(list(pool.map(one, edges)))
    return _joined([one(begin) for begin in edges])


def assess_one(
    system: SystemInput,
    *,
    horizons: tuple[float, ...] = HORIZONS,
    precision: Precision = SINGLE,
) -> Assessments:
    """Assess one system: the batch of one, by the same code."""
    return assess_many(batch_from([system]), horizons=horizons, precision=precision)


def _assess_block(
    batch: Batch, horizons: Array, belief: Belief | None, precision: Precision
) -> Assessments:
    ahead = outlook(batch, horizons, belief, precision)
    return _results(batch, ahead, horizons)


@dataclass(frozen=True)
class Outlook:
    """What is to come of each system, before it is one number.

    unread, read: leaks expected by the oxygen ledger from now to each horizon, (horizons, nodes,
    systems) on runs never read and (horizons, read runs, nodes, factors) on those read; sites:
    exposure of sites ahead, spots: ln of the chance that all known spots hold, others: leaks of
    neither channel, each (horizons, systems).
    """

    attack: Attack
    theta: Array
    seen: Seen
    belief: Belief
    depths: Array
    unread: Array
    read: Array
    sites: Array
    spots: Array
    others: Array

    def log_none(
        self,
        row: int,
        belief: Belief | None = None,
        *,
        has_sites: bool = True,
        has_spots: bool = True,
    ) -> Array:
        """ln of the chance of no leak until one horizon, (systems,), under its belief or another
        about the same systems."""
        belief, sites = belief or self.belief, self.sites[row]
        grown = self.unread[row].astype(np.float64)
        if self.seen.size:
            own = (belief.own * np.exp(-self.read[row])).sum(axis=2)
            np.add.at(grown.T, self.seen.system, -np.log(np.maximum(own, 1e-300)))
        if has_sites and belief.leaky.size:
            grown[:, belief.leaky] -= belief.leaky_survival(sites).T
        weights = np.ascontiguousarray(belief.weights.T)
        gone = -np.einsum("js,js->s", weights, np.expm1(-np.maximum(grown, 0.0)))
        log = np.log1p(-np.minimum(gone, 0.5))
        near = np.flatnonzero(gone > 0.5)  # where a complement would lose its digits
        if near.size:
            held = np.einsum("js,js->s", weights[:, near], np.exp(-grown[:, near]))
            log[near] = np.log(np.maximum(held, 1e-300))
        if has_sites:
            alone = belief.site_survival(sites)
            alone[belief.leaky] = 0.0
            log = log + alone
        if has_spots:
            log = log + self.spots[row]
        result: Array = log - self.others[row]
        return result


def outlook(
    batch: Batch, horizons: Array, belief: Belief | None, precision: Precision = SINGLE
) -> Outlook:
    attack, theta, seen = attack_of(batch), theta_nodes(batch), seen_runs(batch)
    s, count = batch.systems, horizons.size
    times = s.now_yr[:, None] + np.concatenate(([0.0], horizons))
    ahead = times
    if belief is None:
        times = np.column_stack([times, *reversed(watched(batch))])
    depths = attack.depths(times)
    unread = attack.intensities(depths, theta, precision, without=seen.run)
    read = seen.expected(attack, depths, theta)
    sites = attack.sites(times)
    if belief is None:
        over = Watched(
            unread=np.ascontiguousarray((unread[-2] - unread[-1]).T, dtype=np.float64),
            read=np.maximum(read[-2] - read[-1], 0.0),
            sites=np.maximum(sites[-2] - sites[-1], 0.0),
        )
        belief = belief_of(batch, attack, theta, seen, over)
    others = _has_steel(batch) * np.asarray(batch.assumptions.other_leaks_per_year)
    return Outlook(
        attack=attack,
        theta=theta,
        seen=seen,
        belief=belief,
        depths=depths,
        unread=np.maximum(unread[1 : count + 1] - unread[0], 0.0),
        read=np.maximum(read[1 : count + 1] - read[0], 0.0),
        sites=np.maximum(sites[1 : count + 1] - sites[0], 0.0) * s.site_factor,
        spots=log_survival(batch, attack, belief.spots, ahead[:, 1:]),
        others=horizons[:, None] * (others + s.outside_leaks_per_yr),
    )


def _has_steel(batch: Batch) -> Flags:
    has = np.zeros(batch.size, dtype=np.bool_)
    has[batch.runs.system[batch.runs.in_model]] = True
    return has


def _results(batch: Batch, ahead: Outlook, horizons: Array) -> Assessments:
    rows = range(horizons.size)
    none = np.stack([ahead.log_none(row) for row in rows], axis=1)
    probability = np.clip(-np.expm1(none), 0.0, 1.0)
    probability = np.maximum.accumulate(probability, axis=1)
    five, year = (int(np.flatnonzero(horizons == at)[0]) for at in (5.0, 1.0))
    hazard = np.maximum(-none[:, five], 0.0)
    score = np.asarray(score_of(hazard, batch.systems.consequence))
    belief, attack = ahead.belief, ahead.attack
    quantiles = weighted_quantiles(belief.weights, ahead.theta, QUANTILES)
    multiple = run_multiples(ahead, quantiles)
    depth, wall = ahead.depths[0], batch.runs.wall_m
    loss = np.clip(multiple * depth[:, None] - attack.zinc_m[:, None], 0.0, wall[:, None])
    computed, measured = wall - loss[:, 1], walls_left(batch, attack, belief.spots)
    return Assessments(
        horizons_yr=horizons,
        leak_probability=probability,
        by_oxygen=-np.expm1(ahead.log_none(five, has_sites=False, has_spots=False)),
        by_sites=-np.expm1(_sites_alone(ahead, five)),
        by_spots=-np.expm1(ahead.spots[five]),
        hazard=hazard,
        score=score,
        band=band_index(score),
        likelihood=likelihood_level(probability[:, five]),
        life_yr=time_quantiles(horizons, probability, QUANTILES),
        theta=quantiles,
        weights=belief.weights,
        belief=belief,
        run_loss_m=loss,
        run_left_m=np.minimum(computed, measured),
        run_is_measured=measured <= computed,
        run_depth_m=depth,
        run_depth_next_m=ahead.depths[1 + year],
        in_model=_has_steel(batch),
    )


def _sites_alone(ahead: Outlook, row: int) -> Array:
    belief = ahead.belief
    log = belief.site_survival(ahead.sites[row])
    if belief.leaky.size:
        weights = belief.weights[belief.leaky]
        held = np.exp(belief.leaky_survival(ahead.sites[row]))
        log[belief.leaky] = np.log(np.maximum((weights * held).sum(axis=1), 1e-300))
    return log


def run_multiples(ahead: Outlook, quantiles: Array) -> Array:
    """10, 50 and 90 % of what multiplies the depth of each run, (runs, 3): theta, and where it was
    read its own factor too."""
    multiple: Array = quantiles[ahead.attack.run_system]
    seen, belief = ahead.seen, ahead.belief
    if seen.size:
        values = seen.multipliers(ahead.theta).reshape(seen.size, -1)
        chance = (belief.weights[seen.system][:, :, None] * belief.own).reshape(seen.size, -1)
        order = np.argsort(values, axis=1, kind="stable")
        sort = np.take_along_axis(values, order, 1), np.take_along_axis(chance, order, 1)
        multiple[seen.run] = weighted_quantiles(sort[1], sort[0], QUANTILES)
    return multiple


_PER_ROW: Final = tuple(
    name for name in Assessments.__dataclass_fields__ if name not in ("horizons_yr", "belief")
)


def _joined(parts: list[Assessments]) -> Assessments:
    if not parts:
        raise ValueError("the batch holds no system; it must hold at least one")
    columns = {name: np.concatenate([getattr(p, name) for p in parts]) for name in _PER_ROW}
    belief = joined_beliefs([part.belief for part in parts])
    return Assessments(horizons_yr=parts[0].horizons_yr, belief=belief, **columns)
