"""What drives each score and what waiting costs, as one calculation over all the variants."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_many
from registry.corrosion.batch import Batch, Flags
from registry.corrosion.decisions import SOON
from registry.corrosion.delay import DELAY, Ahead, DelayCost, costs_between, left_for
from registry.corrosion.prior import prior_weights
from registry.corrosion.types import Array
from registry.corrosion.variants import (
    always_inert,
    clean_before_register,
    drained_or_vented,
    inert_now,
    joined,
    with_thicker_wall,
    without_joint_loss,
)

LEAST_POINTS: Final = 0.05
"""A driver that moves the score by less is no reason."""

DRIVERS: Final[tuple[tuple[str, str, Callable[[Batch], Batch]], ...]] = (
    ("gas_from_now", "Gas from now on: air is let in instead of nitrogen", inert_now),
    ("gas_so_far", "Oxygen let in since the register began", always_inert),
    ("before_register", "Assumed history before the register", clean_before_register),
    ("wall", "Wall thinner than Schedule 40", with_thicker_wall),
    ("joints", "Wall taken by threads or cut grooves", without_joint_loss),
    ("trapped_gas", "Gas trapped where no vent lets it out", drained_or_vented),
)
OF_GAS: Final = frozenset({"gas_from_now", "gas_so_far", "before_register"})
"""Their good value is nitrogen, which open pipe cannot hold."""

IN_POOLS: Final = {"trapped_gas": ("residual_water", "Water standing in the pipe")}
EVIDENCE: Final = ("evidence", "Field evidence: readings, leaks or none")


@dataclass(frozen=True, slots=True)
class Reason:
    """A driver of the score: what the score would be with it at its good value."""

    code: str
    text: str
    score_without: float
    points: float


@dataclass(frozen=True, slots=True)
class Judged:
    """What drives a score, largest first, and what a week's delay costs.

    Points do not add up to the score, because drivers multiply. The last driver compares with the
    score before field evidence and may be negative. What moves nothing is left out.
    """

    reasons: tuple[Reason, ...]
    delay: DelayCost | None


def judge_many(batch: Batch, base: Assessments) -> list[Judged]:
    """Each driver against its good value and each wait against none, all else kept."""
    drivers = len(DRIVERS)
    parts = [*(change(batch) for _, _, change in DRIVERS), left_for(batch, DELAY), batch]
    weights = np.vstack([np.tile(base.weights, (drivers + 1, 1)), prior_weights(batch)])
    found = assess_many(joined(parts), horizons=SOON, weights=weights)
    score, hazard, depth = (
        column.reshape(len(parts), -1)
        for column in (found.score, found.hazard, found.run_depth_next_m)
    )
    scores = score[[*range(drivers), -1]].T
    ahead = (Ahead(hazard[row], depth[row]) for row in (0, drivers))
    delays = costs_between(batch, base, *ahead)
    reasons = _reasons_of(batch, base, scores)
    return [Judged(*both) for both in zip(reasons, delays, strict=True)]


def _reasons_of(batch: Batch, base: Assessments, scores: Array) -> list[tuple[Reason, ...]]:
    """Scores are those with each driver at its good value, and last the one before evidence."""
    points = base.score[:, None] - scores
    of_gas = np.array([*(code in OF_GAS for code, _, _ in DRIVERS), False])
    points[batch.systems.is_open[:, None] & of_gas] = 0.0
    return [
        _reasons(bool(pools), np.flatnonzero(tells).tolist(), one, gained)
        for pools, tells, one, gained in zip(
            batch.systems.has_pools, _tells(points), scores.tolist(), points.tolist(), strict=True
        )
    ]


def _tells(points: Array) -> Flags:
    """Evidence may speak either way; a driver whose good value would be worse drives nothing."""
    telling: Flags = points >= LEAST_POINTS
    telling[:, -1] = np.abs(points[:, -1]) >= LEAST_POINTS
    return telling


def _reasons(
    has_pools: bool, rows: Sequence[int], scores: list[float], points: list[float]
) -> tuple[Reason, ...]:
    found = [Reason(*_words(row, has_pools), scores[row], points[row]) for row in rows]
    return tuple(sorted(found, key=lambda reason: -abs(reason.points)))


def _words(row: int, has_pools: bool) -> tuple[str, str]:
    if row == len(DRIVERS):
        return EVIDENCE
    code, text, _ = DRIVERS[row]
    return IN_POOLS.get(code, (code, text)) if has_pools else (code, text)
