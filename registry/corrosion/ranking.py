"""What drives each score and what waiting costs, as one calculation over all the variants.

The hazard of a system is compared with that of a sound pipe of its age that was always kept inert.
What lies between is shared among seven drivers; shares of the hazard become shares of the score.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, outlook
from registry.corrosion.batch import Batch
from registry.corrosion.belief import Belief, joined_beliefs
from registry.corrosion.delay import DelayCost, delay_costs_of_many
from registry.corrosion.mixture import gammas_of, log_shares
from registry.corrosion.prior import prior_weights
from registry.corrosion.seen import FACTORS
from registry.corrosion.shapley import rounded_to_sum, shapley_values
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

BASELINE: Final = ("baseline", "A sound pipe of this age, kept inert")
LEAST_POINTS: Final = 0.05
"""A driver that moves the score by less is not shown; its points go to the baseline."""


def _sound_wall(batch: Batch) -> Batch:
    return without_joint_loss(with_thicker_wall(batch))


DRIVERS: Final[tuple[tuple[str, str, Callable[[Batch], Batch]], ...]] = (
    ("gas_from_now", "Gas from now on: air is let in instead of nitrogen", inert_now),
    ("gas_so_far", "Oxygen let in since the register began", always_inert),
    ("before_register", "Assumed history before the register", clean_before_register),
    ("wall", "Thin wall, and what threads or cut grooves took of it", _sound_wall),
    ("trapped_gas", "Gas trapped where no vent lets it out", drained_or_vented),
)
IN_POOLS: Final = {"trapped_gas": ("residual_water", "Water standing in the pipe")}
OTHER_CAUSES: Final = (
    "other_causes",
    "Causes that nitrogen does not stop: bacteria, deposits, seams",
)
EVIDENCE: Final = ("evidence", "Field evidence: readings, leaks, findings, watched years")


@dataclass(frozen=True, slots=True)
class Reason:
    """What a driver adds to the score; the points of all reasons add up to it."""

    code: str
    text: str
    points: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """What drives a score, the baseline first and then the largest, and what a week costs.

    Evidence may speak for a system: then its points are below zero. What moves less than a
    twentieth of a point is left to the baseline.
    """

    reasons: tuple[Reason, ...]
    delay: DelayCost | None


def explain_many(batch: Batch, base: Assessments) -> list[Explanation]:
    """Reasons of every score, and what waiting costs."""
    delays = delay_costs_of_many(batch, base)
    shares = hazard_shares(batch, base)
    rows = zip(shares.T, base.score, base.hazard, batch.systems.has_pools, delays, strict=True)
    return [
        Explanation(_reasons(share, float(score), float(hazard), bool(pools)), delay)
        for share, score, hazard, pools, delay in rows
    ]


def hazard_shares(batch: Batch, base: Assessments) -> Array:
    """Hazard of the baseline and what each driver adds to it, (1 + drivers, systems)."""
    value = _hazards(batch, base)
    return np.concatenate([value[:1], shapley_values(value)])


def _hazards(batch: Batch, base: Assessments) -> Array:
    """Five-year hazard for each set of drivers that are as they are, (2**7, systems)."""
    changes = len(DRIVERS)
    variants = []
    for mask in range(1 << changes):
        changed = batch
        for at, (_, _, change) in enumerate(DRIVERS):
            if not mask >> at & 1:
                changed = change(changed)
        variants.append(changed)
    belief = joined_beliefs([base.belief] * len(variants))
    before = joined_beliefs([before_evidence(batch, base.belief)] * len(variants))
    ahead = outlook(joined(variants), np.array([5.0]), belief)
    columns = []
    for given, has_spots in ((before, False), (belief, True)):
        for has_sites in (False, True):
            none = ahead.log_none(0, given, has_sites=has_sites, has_spots=has_spots)
            columns.append(np.maximum(-none, 0.0).reshape(len(variants), -1))
    return np.concatenate(columns)


def before_evidence(batch: Batch, belief: Belief) -> Belief:
    """What is believed of systems of this sort before anything was seen of the one at hand."""
    gammas, nodes = gammas_of(batch), belief.weights.shape[1]
    own = np.zeros((belief.own.shape[0], nodes, FACTORS))
    own[:, :, FACTORS // 2] = 1.0
    return replace(
        belief,
        weights=np.ascontiguousarray(prior_weights(batch)),
        own=own,
        gammas=gammas,
        sites=np.exp(log_shares(gammas.log_odds)),
        watched=np.zeros(batch.size),
        leaky=np.zeros(0, dtype=np.intp),
        terms=np.zeros((0, nodes, 2, 1)),
    )


def _reasons(share: Array, score: float, hazard: float, has_pools: bool) -> tuple[Reason, ...]:
    points = share * (score / hazard if hazard > 0 else 0.0)
    tells = np.abs(points) >= LEAST_POINTS
    tells[0] = True
    points[0] = score - points[1:][tells[1:]].sum()
    shown = np.flatnonzero(tells)
    rounded = rounded_to_sum(points[shown], score)
    words = [
        BASELINE,
        *(_words(at, has_pools) for at in range(len(DRIVERS))),
        OTHER_CAUSES,
        EVIDENCE,
    ]
    found = [Reason(*words[row], one) for row, one in zip(shown, rounded, strict=True)]
    return (found[0], *sorted(found[1:], key=lambda reason: -abs(reason.points)))


def _words(row: int, has_pools: bool) -> tuple[str, str]:
    code, text, _ = DRIVERS[row]
    return IN_POOLS.get(code, (code, text)) if has_pools else (code, text)
