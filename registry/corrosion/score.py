"""From leak probability to a score, bands and a place in the consequence matrix."""

from typing import Final

import numpy as np

from registry.corrosion.timeline import Index
from registry.corrosion.types import Array, Real, plain

BANDS: Final = ("leave", "watch", "plan", "act")
BAND_EDGES: Final = (1.0, 5.0, 20.0)
"""Edges of the score between what to do. Assumed, our own."""

LIKELIHOOD_EDGES: Final = (0.001, 0.01, 0.05, 0.20)
"""Edges between likelihood levels 1 to 5 of the matrix, in the manner of IEC 31010."""


CERTAIN: Final = 1.0 - 1e-9
"""Probability that counts as certain: nearer to 1 the hazard would be rounding noise."""


def score_of(hazard: Real, consequence: Real = 1.0) -> Real:
    """Score 0 to 100: 100 (1 - exp(-c H)), H the five-year cumulative hazard.

    With c = 1 it is the probability of a leak within five years, in percent.
    """
    return plain(-100.0 * np.expm1(-np.asarray(consequence) * np.asarray(hazard)))


def hazard_of(probability: Real) -> Real:
    """Cumulative hazard behind a probability: -ln(1 - P), P held at one less a billionth."""
    return plain(-np.log1p(-np.minimum(np.asarray(probability, dtype=float), CERTAIN)))


def band_index(score: Array) -> Index:
    """Index into BANDS."""
    index: Index = np.searchsorted(BAND_EDGES, score, side="right")
    return index


def likelihood_level(five_year_probability: Array) -> Index:
    """Likelihood 1 (rare) to 5."""
    index: Index = np.searchsorted(LIKELIHOOD_EDGES, five_year_probability, side="right") + 1
    return index


def time_quantiles(horizons: Array, probability: Array, wanted: tuple[float, ...]) -> Array:
    """Years by which the probability of a first leak reaches each of `wanted`: (n, wanted).

    Parameters: horizons (h,) ascending; probability (n, h), never falling along a row.
    Returns: the last horizon where it is not reached by then.
    Notes: the cumulative hazard is a straight line from zero to the first horizon, and straight
    in logarithms after it.
    """
    hazard = np.maximum(np.asarray(hazard_of(probability)), 1e-300)
    columns = [_time_at(horizons, hazard, float(hazard_of(p))) for p in wanted]
    return np.stack(columns, axis=1)


def _time_at(horizons: Array, hazard: Array, wanted: float) -> Array:
    reached = (hazard < wanted).sum(axis=1)
    upper = np.clip(reached, 1, horizons.size - 1)
    row = np.arange(hazard.shape[0])
    low, high = np.log(hazard[row, upper - 1]), np.log(hazard[row, upper])
    share = np.clip((np.log(wanted) - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    log_t = np.log(horizons)
    between = np.exp((1.0 - share) * log_t[upper - 1] + share * log_t[upper])
    early = horizons[0] * np.minimum(wanted / hazard[:, 0], 1.0)
    result: Array = np.where(reached == 0, early, between)
    return np.where(reached == horizons.size, horizons[-1], result)
