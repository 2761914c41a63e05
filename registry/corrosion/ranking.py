"""Reasons and costs of delay of many systems, each as one calculation over all their variants."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_many
from registry.corrosion.attack import attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import WEEK, DelayCost, Reason, drivers_of, inert_now
from registry.corrosion.inputs import GasSpan, SystemInput
from registry.corrosion.prior import prior_weights
from registry.corrosion.types import Array

DELAY: Final = 0.25
"""Years over which a week of waiting is averaged: long beside the time in which trapped oxygen is
spent, short beside a life. Assumed, our own."""

LEAST_POINTS: Final = 0.05
"""A driver that moves the score by less is no reason."""


def reasons_of_many(systems: Sequence[SystemInput], base: Assessments) -> list[tuple[Reason, ...]]:
    """Drivers of each score as `decisions.reasons` has them, without those that move nothing."""
    drivers = [drivers_of(system) for system in systems]
    owner = np.repeat(np.arange(len(systems)), [len(rows) for rows in drivers])
    variants = [
        change(system)
        for system, rows in zip(systems, drivers, strict=True)
        for _, _, change in rows
    ]
    without = iter(assess_many(batch_from(variants), weights=base.weights[owner]).score)
    batch = batch_from(systems)
    unproven = assess_many(batch, weights=prior_weights(batch)).score
    found = []
    for at, rows in enumerate(drivers):
        scores = [(code, text, float(next(without))) for code, text, _ in rows]
        scores.append(("evidence", "Field evidence: readings, leaks or none", float(unproven[at])))
        found.append(_sorted_reasons(float(base.score[at]), scores))
    return found


def _sorted_reasons(score: float, without: list[tuple[str, str, float]]) -> tuple[Reason, ...]:
    reasons = [Reason(code, text, other, score - other) for code, text, other in without]
    telling = (reason for reason in reasons if _tells(reason))
    return tuple(sorted(telling, key=lambda reason: -abs(reason.points)))


def _tells(reason: Reason) -> bool:
    """Evidence may speak either way; a driver whose good value would be worse drives nothing."""
    points = abs(reason.points) if reason.code == "evidence" else reason.points
    return points >= LEAST_POINTS


def delay_costs_of_many(systems: Sequence[SystemInput], base: Assessments) -> list[DelayCost]:
    """What each week until the gas is made inert costs, averaged over the first months of waiting.

    Notes: waiting lets in what the supply makes up and, in water-filled pipe, the fills to expect
    meanwhile. Never below zero: gas better than 98 % nitrogen is not made worse by waiting.
    """
    pairs = [pair for system in systems for pair in (inert_now(system), left_for(system, DELAY))]
    batch = batch_from(pairs)
    scores = assess_many(batch, weights=np.repeat(base.weights, 2, axis=0)).score.reshape(-1, 2)
    depth = attack_of(batch).depths(batch.systems.now_yr[:, None] + 1.0)[0]
    weeks = DELAY / WEEK
    points = np.maximum(scores[:, 1] - scores[:, 0], 0.0) / weeks
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
