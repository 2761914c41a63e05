"""What each week of waiting until the gas is inert costs: what ranks open work."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments
from registry.corrosion.batch import Batch
from registry.corrosion.decisions import SOON, under_one_belief
from registry.corrosion.types import Array
from registry.corrosion.variants import inert_now, joined

WEEK: Final = 7.0 / 365.25

DELAY: Final = 0.25
"""Years over which a week of waiting is averaged: long beside the time in which trapped oxygen is
spent, short beside a life. Assumed, our own."""


@dataclass(frozen=True, slots=True)
class DelayCost:
    """What each week costs until the gas is inert.

    Points are those of the score while it is small, 100 c dH with H the five-year hazard. Near
    100 the score itself hardly moves any more; these points go on, so that work on the worst
    systems is not ranked last.
    """

    score_points_per_week: float
    wall_m_per_week: float


def delay_costs_of_many(batch: Batch, base: Assessments) -> list[DelayCost | None]:
    """What each week until the gas is made inert costs, averaged over the first months of waiting.

    Notes: waiting lets in what the supply makes up and, in water-filled pipe, the fills to expect
    meanwhile. Never below zero: gas better than 98 % nitrogen is not made worse by waiting. None
    for open pipe, which cannot be made inert.
    """
    both = joined([inert_now(batch), left_for(batch, DELAY)])
    return costs_between(batch, base, *halves(under_one_belief(base, both, SOON)))


def halves(both: Assessments) -> tuple["Ahead", "Ahead"]:
    """What counts of two batches of the same systems that were assessed as one."""
    hazard, depth = both.hazard.reshape(2, -1), both.run_depth_next_m.reshape(2, -1)
    return Ahead(hazard[0], depth[0]), Ahead(hazard[1], depth[1])


@dataclass(frozen=True, slots=True)
class Ahead:
    """Five-year hazard of each system, and depth of each run a year from now for theta 1."""

    hazard: Array
    depth_m: Array


def costs_between(
    batch: Batch, base: Assessments, now: Ahead, later: Ahead
) -> list[DelayCost | None]:
    """What a week costs of the wait that lies between being made inert now and later."""
    weeks = DELAY / WEEK
    worse = np.maximum(later.hazard - now.hazard, 0.0) / weeks
    points = 100.0 * batch.systems.consequence * worse
    worst = np.zeros(batch.size)
    np.maximum.at(worst, batch.runs.system, later.depth_m - now.depth_m)
    grown = worst * base.theta[:, 1] / weeks
    rows = zip(batch.systems.is_open, points.tolist(), grown.tolist(), strict=True)
    return [None if is_open else DelayCost(p, g) for is_open, p, g in rows]


def left_for(batch: Batch, delay: float) -> Batch:
    """Made inert after `delay` years of waiting, and left as it is until then."""
    return inert_now(batch, after_yr=delay)
