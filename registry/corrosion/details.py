"""One system run by run: losses, deepest pits, wall lost over time."""

from dataclasses import dataclass

import numpy as np

from registry.corrosion.assess import QUANTILES, Assessments, assess_one, outlook, run_multiples
from registry.corrosion.attack import Attack, attack_of
from registry.corrosion.batch import Batch
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import SystemInput
from registry.corrosion.prior import theta_nodes
from registry.corrosion.run_chances import run_chances
from registry.corrosion.seen import seen_runs
from registry.corrosion.types import Array


@dataclass(frozen=True, slots=True)
class Band:
    """10, 50 and 90 %."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class RunDetail:
    """One run today. Losses and depths in metres; `in_model` False: evidence only, no numbers.

    wall_left_m is that at a known thin spot where `is_measured`, else that at the median loss.
    """

    run: int
    in_model: bool
    loss_m: Band
    deepest_m: Band
    leak_probability_5yr: float
    wall_left_m: float
    is_measured: bool


@dataclass(frozen=True)
class Fan:
    """Wall lost on one run over time, each (n,)."""

    run: int
    times_yr: Array
    low_m: Array
    middle_m: Array
    high_m: Array


def run_details(system: SystemInput, base: Assessments | None = None) -> tuple[RunDetail, ...]:
    """Every run of a system today."""
    base = base or assess_one(system)
    batch = batch_from([system])
    attack, theta, seen = attack_of(batch), theta_nodes(batch), seen_runs(batch)
    depth = attack.depths(batch.systems.now_yr[:, None])[0]
    chance = run_chances(batch, base)
    weights, nodes = base.weights[0], np.broadcast_to(theta[0], base.weights[0].shape)
    of_read = {int(run): at for at, run in enumerate(seen.run)}
    rows = []
    for row in range(len(system.runs)):
        values, belief = nodes, weights
        if (at := of_read.get(row)) is not None:
            values = seen.multipliers(theta)[at].ravel()
            belief = (weights[:, None] * base.belief.own[at]).ravel()
        rows.append(
            RunDetail(
                run=row,
                in_model=bool(batch.runs.in_model[row]),
                loss_m=Band(*(float(v) for v in base.run_loss_m[row])),
                deepest_m=_deepest(batch, attack, float(depth[row]), values, belief, row),
                leak_probability_5yr=float(chance[row]) if batch.runs.in_model[row] else 0.0,
                wall_left_m=float(base.run_left_m[row]),
                is_measured=bool(base.run_is_measured[row]),
            )
        )
    return tuple(rows)


def _deepest(
    batch: Batch, attack: Attack, depth: float, theta: Array, weights: Array, row: int
) -> Band:
    """Deepest pit on a run: Gumbel of its patches, mixed over the belief; never beyond the wall."""
    levels = (np.arange(41) + 0.5) / 41
    patches = max(float(attack.patches[row]), 1.0)
    head = float(attack.head[row])
    factor = attack.scale[row] * (head + np.log(patches) - np.log(-np.log(levels)))
    pits = theta[:, None] * depth * factor - attack.zinc_m[row]
    chance = np.repeat(weights, levels.size) / levels.size
    order = np.argsort(pits.ravel(), kind="stable")
    middles = np.cumsum(chance[order]) - 0.5 * chance[order]
    found = np.interp(QUANTILES, middles, pits.ravel()[order])
    wall = float(batch.runs.wall_m[row])
    low, middle, high = (float(v) for v in np.clip(found, 0.0, wall))
    return Band(low, middle, high)


def wall_fan(
    system: SystemInput, run: int, times_yr: Array, base: Assessments | None = None
) -> Fan:
    """Mean wall lost on the attacked strip of a run at past and future times."""
    base = base or assess_one(system)
    batch = batch_from([system])
    attack = attack_of(batch)
    times = np.asarray(times_yr, dtype=np.float64)
    depth = attack.depth(np.full(times.shape, run, dtype=np.intp), times)
    wall, zinc = batch.runs.wall_m[run], attack.zinc_m[run]
    ahead = outlook(batch, np.array([5.0]), base.belief)
    multiple = run_multiples(ahead, base.theta)[run]
    low, middle, high = (np.clip(theta * depth - zinc, 0.0, wall) for theta in multiple)
    return Fan(run, times, low, middle, high)
