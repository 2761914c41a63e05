"""The deepest pit: Gumbel statistics, fits to readings and scaling with area.

On one patch the depth of the deepest pit is Gumbel distributed with location and scale in
proportion to the mean depth of attack; over N patches the location rises by scale * ln N.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.types import Array, Real, plain, require, require_positive

EULER_GAMMA: Final = 0.5772156649015329

MOST_BELOW: Final = 700.0
"""Scales below the location beyond which an exponential would overflow; the chance is 0 there."""


@dataclass(frozen=True, slots=True)
class Gumbel:
    """Distribution of a maximum, F(x) = exp(-exp(-(x - location)/scale))."""

    location: float
    scale: float
    method: str = "given"
    readings: int = 0

    def cdf(self, x: Real) -> Real:
        below = (self.location - np.asarray(x, dtype=float)) / self.scale
        return plain(np.exp(-np.exp(np.minimum(below, MOST_BELOW))))

    def quantile(self, probability: Real) -> Real:
        return plain(self.location + self.scale * np.asarray(reduced_variate(probability)))

    def over_areas(self, areas: float) -> "Gumbel":
        """Distribution of the maximum over `areas` areas like the one sampled."""
        require_positive(areas=areas)
        location = self.location + self.scale * math.log(areas)
        return Gumbel(location, self.scale, self.method, self.readings)

    def at_return_period(self, areas: float) -> float:
        """Depth exceeded on one in `areas` equal areas."""
        require(areas > 1, "areas", areas, "above 1")
        return float(self.quantile(1.0 - 1.0 / areas))


def reduced_variate(probability: Real) -> Real:
    """-ln(-ln p), dimensionless; p strictly between 0 and 1.

    Example:
    >>> round(reduced_variate(0.99), 5)
    4.60015
    """
    p = np.asarray(probability, dtype=float)
    require(~((p <= 0) | (p >= 1)), "probability", probability, "between 0 and 1, not at the ends")
    return plain(-np.log(-np.log(p)))


def fit_by_moments(depths: Array) -> Gumbel:
    """Gumbel with the mean and sample standard deviation of the depths.

    Equation: scale = s sqrt(6)/pi, location = mean - 0.5772 scale.
    """
    x = _maxima(depths)
    scale = float(np.std(x, ddof=1)) * math.sqrt(6.0) / math.pi
    return Gumbel(float(x.mean()) - EULER_GAMMA * scale, scale, "moments", x.size)


def fit_by_least_squares(depths: Array) -> Gumbel:
    """Gumbel by regression of sorted depths on -ln(-ln(i/(n + 1))).

    Source: ASTM G46 and G16, extreme-value plot, from memory.
    """
    x = np.sort(_maxima(depths))
    y = np.asarray(reduced_variate(np.arange(1, x.size + 1) / (x.size + 1.0)))
    scale = float(np.cov(y, x)[0, 1] / np.var(y, ddof=1))
    return Gumbel(float(x.mean()) - scale * float(y.mean()), scale, "least squares", x.size)


def fit_by_likelihood(depths: Array) -> Gumbel:
    """Gumbel of maximum likelihood.

    Equation: scale = mean(x) - sum(x e**(-x/scale)) / sum(e**(-x/scale)), solved by bisection;
    location = -scale ln(mean(e**(-x/scale))).
    Source: standard result for the Gumbel distribution.
    """
    x = _maxima(depths)
    shifted = x - x.min()

    def excess(scale: float) -> float:
        weights = np.exp(-shifted / scale)
        return float(scale - x.mean() + (x * weights).sum() / weights.sum())

    low, high = 1e-6 * float(np.ptp(x)), 10.0 * float(np.ptp(x))
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if excess(middle) < 0 else (low, middle)
    scale = 0.5 * (low + high)
    location = float(x.min()) - scale * math.log(float(np.exp(-shifted / scale).mean()))
    return Gumbel(location, scale, "maximum likelihood", x.size)


def _maxima(depths: Array) -> Array:
    x = np.asarray(depths, dtype=np.float64)
    require(x.size >= 3, "depths", float(x.size), "at least three readings")
    require(bool(np.ptp(x) > 0), "depths", x, "not all the same")
    return x
