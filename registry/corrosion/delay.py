"""What each week of waiting until the gas is inert costs: what ranks open work."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_many, assess_one
from registry.corrosion.attack import attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import inert_now
from registry.corrosion.inputs import GasSpan, SystemInput
from registry.corrosion.types import Array

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


def delay_cost(system: SystemInput, base: Assessments | None = None) -> DelayCost:
    """Of one system, by the same code as of many."""
    return delay_costs_of_many([system], base or assess_one(system))[0]


def delay_costs_of_many(systems: Sequence[SystemInput], base: Assessments) -> list[DelayCost]:
    """What each week until the gas is made inert costs, averaged over the first months of waiting.

    Notes: waiting lets in what the supply makes up and, in water-filled pipe, the fills to expect
    meanwhile. Never below zero: gas better than 98 % nitrogen is not made worse by waiting.
    """
    pairs = [pair for system in systems for pair in (inert_now(system), left_for(system, DELAY))]
    batch = batch_from(pairs)
    hazard = assess_many(batch, weights=np.repeat(base.weights, 2, axis=0)).hazard.reshape(-1, 2)
    depth = attack_of(batch).depths(batch.systems.now_yr[:, None] + 1.0)[0]
    weeks = DELAY / WEEK
    worse = np.maximum(hazard[:, 1] - hazard[:, 0], 0.0) / weeks
    points = 100.0 * batch.systems.consequence[::2] * worse
    grown = _worst_growth(systems, depth) * base.theta[:, 1] / weeks
    return [DelayCost(float(p), float(g)) for p, g in zip(points, grown, strict=True)]


def _worst_growth(systems: Sequence[SystemInput], depth: Array) -> Array:
    """Of the run that loses most by waiting; `depth` holds each system's runs twice, in turn."""
    worst, begin = np.zeros(len(systems)), 0
    for at, system in enumerate(systems):
        runs = len(system.runs)
        now, later = depth[begin : begin + runs], depth[begin + runs : begin + 2 * runs]
        worst[at] = np.max(later - now, initial=0.0)
        begin += 2 * runs
    return worst


def left_for(system: SystemInput, delay: float) -> SystemInput:
    """The system with what `delay` years of waiting let in, made inert after that."""
    if not system.has_pools:
        dose = GasSpan(system.now_yr, min(_still_there(system) + _let_in(system, delay), 1.0))
        system = replace(system, spans=(*system.spans, dose))
    return inert_now(system, at_yr=system.now_yr + delay)


def _still_there(system: SystemInput) -> float:
    """Oxygen left of what the latest fill trapped."""
    last = max(system.spans, key=lambda span: span.start_yr, default=None)
    if last is None:
        return 0.0
    days = 365.25 * max(system.now_yr - last.start_yr, 0.0)
    return last.oxygen * math.exp(-days / float(system.assumptions.pocket_decay_days))


def _let_in(system: SystemInput, delay: float) -> float:
    """Oxygen that the fills to expect within `delay` bring; exposure is linear in it."""
    fills, oxygen = system.future_fills_per_year, system.future_oxygen
    if fills is None:
        fills = float(system.assumptions.future_fills_wet)
    if oxygen is None:
        last = max(system.spans, key=lambda span: span.start_yr, default=None)
        oxygen = last.oxygen if last else float(system.assumptions.unknown_oxygen)
    return fills * delay * oxygen
