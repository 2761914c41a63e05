"""Reasons of many systems as one calculation over all their variants."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_many
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import Reason, drivers_of
from registry.corrosion.inputs import SystemInput
from registry.corrosion.prior import prior_weights

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
