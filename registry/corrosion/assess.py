"""The assessment of many systems at once, and of one as a batch of one.

`assess_many` works through the batch in blocks that stay in cache, on as many threads as asked.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.attack import Attack, attack_of
from registry.corrosion.batch import Batch, Flags
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import posterior_weights, watched, weighted_quantiles
from registry.corrosion.inputs import SystemInput
from registry.corrosion.leaks import SINGLE, AnyFloats, Precision
from registry.corrosion.prior import theta_nodes
from registry.corrosion.score import (
    BANDS,
    band_index,
    hazard_of,
    likelihood_level,
    score_of,
    time_quantiles,
)
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

HORIZONS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0)
"""Years ahead. One and five must be among them; the last is where "beyond" begins."""

QUANTILES: Final = (0.1, 0.5, 0.9)
BLOCK: Final = 4096
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
    in_model: whether any run of the system is one the oxygen ledger speaks of.
    """

    horizons_yr: Array
    leak_probability: Array
    hazard: Array
    score: Array
    band: Index
    likelihood: Index
    life_yr: Array
    theta: Array
    weights: Array
    run_loss_m: Array
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
    weights: Array | None = None,
    workers: int = 1,
    precision: Precision = SINGLE,
    block: int = BLOCK,
) -> Assessments:
    """Assess every system of a batch.

    Parameters: horizons [yr], ascending, 1 and 5 among them; weights (systems, nodes), a belief
    about theta to use instead of the evidence in the batch, for comparing histories under one
    belief; workers, threads; precision of the sums over patches.
    """
    ascends = list(horizons) == sorted(set(horizons)) and horizons[0] > 0
    if not ascends or not {1.0, 5.0} <= set(horizons):
        raise ValueError(f"horizons is {horizons!r}; it must ascend from above 0, hold 1 and 5")
    edges = range(0, batch.size, block)

    def one(begin: int) -> Assessments:
        end = min(begin + block, batch.size)
        given = None if weights is None else weights[begin:end]
        part = batch if end - begin == batch.size else batch.part(begin, end)
        return _assess_block(part, np.array(horizons), given, precision)

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
    batch: Batch, horizons: Array, weights: Array | None, precision: Precision
) -> Assessments:
    attack, theta = attack_of(batch), theta_nodes(batch)
    times = batch.systems.now_yr[:, None] + np.concatenate(([0.0], horizons))
    if weights is None:
        times = np.column_stack([times, *_watch(batch)])
    depths = attack.depths(times)
    expected = attack.intensities(depths, theta, precision)
    if weights is None:
        until, *since = expected[horizons.size + 1 :]
        survived = np.ascontiguousarray((until - sum(since)).T)
        weights = posterior_weights(batch, attack, theta, survived)
    probability = _leak_probability(batch, expected, weights, horizons)
    depth = depths[0], depths[1 + list(horizons).index(1.0)]
    return _results(batch, attack, theta, weights, depth, horizons, probability)


def _watch(batch: Batch) -> list[Array]:
    """When the watch for leaks ended, and when it began where that was not at installation."""
    since, until = watched(batch)
    return [until, since] if np.any(batch.assumptions.leaks_unknown_years) else [until]


def _leak_probability(batch: Batch, expected: AnyFloats, weights: Array, horizons: Array) -> Array:
    """Probability of a leak within each horizon, (systems, horizons): the mean over the belief of
    1 - exp(-leaks expected from now on). `expected` is (1 + horizons, nodes, systems).
    """
    probability = np.empty((batch.size, horizons.size))
    belief, now = np.ascontiguousarray(weights.T), expected[0].astype(np.float64)
    for column, horizon in enumerate(horizons):
        grown = np.minimum(now - expected[column + 1], 0.0)
        inside = -np.einsum("js,js->s", belief, np.expm1(grown, out=grown))
        outside = -np.expm1(-batch.systems.outside_leaks_per_yr * horizon)
        probability[:, column] = np.clip(inside + outside - inside * outside, 0.0, 1.0)
    return np.maximum.accumulate(probability, axis=1)


def _results(
    batch: Batch,
    attack: Attack,
    theta: Array,
    weights: Array,
    depths: tuple[Array, Array],
    horizons: Array,
    probability: Array,
) -> Assessments:
    depth, depth_next = depths
    five = probability[:, int(np.flatnonzero(horizons == 5.0)[0])]
    hazard = np.asarray(hazard_of(five))
    quantiles = weighted_quantiles(weights, theta, QUANTILES)
    loss = quantiles[attack.run_system] * depth[:, None] - attack.zinc_m[:, None]
    in_model = np.zeros(batch.size, dtype=np.bool_)
    in_model[batch.runs.system[batch.runs.in_model]] = True
    return Assessments(
        horizons_yr=horizons,
        leak_probability=probability,
        hazard=hazard,
        score=np.asarray(score_of(hazard, batch.systems.consequence)),
        band=band_index(five),
        likelihood=likelihood_level(five),
        life_yr=time_quantiles(horizons, probability, QUANTILES),
        theta=quantiles,
        weights=weights,
        run_loss_m=np.clip(loss, 0.0, batch.runs.wall_m[:, None]),
        run_depth_m=depth,
        run_depth_next_m=depth_next,
        in_model=in_model,
    )


_PER_ROW: Final = tuple(f for f in Assessments.__dataclass_fields__ if f != "horizons_yr")


def _joined(parts: list[Assessments]) -> Assessments:
    if not parts:
        raise ValueError("the batch holds no system; it must hold at least one")
    columns = {name: np.concatenate([getattr(p, name) for p in parts]) for name in _PER_ROW}
    return Assessments(horizons_yr=parts[0].horizons_yr, **columns)
