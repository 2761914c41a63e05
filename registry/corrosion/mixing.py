"""The mixing index: what is believed before a fill, what the reading after it teaches.

A fill multiplies the oxygen above the feed's by r**eta. One index eta is taken to hold for a
system during a run: it stands for dead legs, water left behind and where the gas is let in.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.gas import fitted_mixing_index, n2_percent
from registry.corrosion.types import Array, require, require_not_negative, require_positive

__all__ = [
    "MeasuredFill",
    "MixingIndex",
    "PRIOR",
    "Prediction",
    "READING_SD",
    "ReadingJudgement",
    "fitted_mixing_index",
    "judge_reading",
    "predict_next",
    "update_mixing",
]

READING_SD: Final = 0.002
"""Standard deviation of one oxygen reading, mole fraction: 0.2 points. Assumed, editable; hand-held
electrochemical cells are commonly sold as accurate to 0.1 to 0.3 points, no source."""

FILL_SCATTER: Final = 0.05
"""Standard deviation of the index from fill to fill of one system. Assumed: keeps one reading
from fixing the next too sharply."""

LOWEST_INDEX, HIGHEST_INDEX = 0.02, 2.5
_NODES: Array = np.linspace(LOWEST_INDEX, HIGHEST_INDEX, 497)
_HALF_ERRORS = np.array([0.126, 0.385, 0.674, 1.036, 1.645])
_ERRORS: Array = np.concatenate([-_HALF_ERRORS[::-1], _HALF_ERRORS])
"""Midpoints of ten equally likely slices of a standard normal."""

IMPLAUSIBLE_TAIL: Final = 0.01


@dataclass(frozen=True, slots=True)
class MixingIndex:
    """Belief about eta: normal, cut off below 0.02. An sd below the grid's step of 0.005 counts
    as zero: the index is then known exactly."""

    mean: float = 1.0
    sd: float = 0.15

    def __post_init__(self) -> None:
        require_positive(mean=self.mean)
        require_not_negative(sd=self.sd)

    @property
    def is_exact(self) -> bool:
        return bool(self.sd < _NODES[1] - _NODES[0])

    def quantile(self, probability: float | Array) -> Array:
        """Index at a probability."""
        if self.is_exact:
            return np.full(np.shape(probability), self.mean)
        weights = self.weights()
        cumulative = np.cumsum(weights)
        middles = cumulative - 0.5 * weights
        return np.asarray(np.interp(probability, middles, _NODES))

    def weights(self) -> Array:
        """Probabilities on the grid of indexes."""
        density = np.exp(-0.5 * ((_NODES - self.mean) / self.sd) ** 2)
        weights: Array = density / density.sum()
        return weights

    def probability_at_least(self, index: float) -> float:
        """P(eta >= index)."""
        if math.isinf(index):
            return 0.0
        if self.is_exact:
            return float(self.mean >= index - 1e-12)
        mean, sd = self.mean, self.sd * math.sqrt(2.0)
        above = math.erfc((max(index, LOWEST_INDEX) - mean) / sd)
        return min(1.0, above / math.erfc((LOWEST_INDEX - mean) / sd))


PRIOR: Final = MixingIndex()
"""Before any reading: full mixing, give or take 0.15. Assumed; the first fill of an air-filled
system to 30 psig then reads 91.0 to 94.8 % in nine of ten systems, as common practice has it."""


@dataclass(frozen=True, slots=True)
class MeasuredFill:
    """One fill as measured. Oxygen as mole fractions, pressure ratio of absolute pressures."""

    start_oxygen: float
    oxygen: float
    feed_oxygen: float
    pressure_ratio: float


@dataclass(frozen=True, slots=True)
class Prediction:
    """What the next reading should show: median and 80 % band of nitrogen in percent."""

    n2_percent: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Cause:
    """A likely cause of an implausible reading."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class ReadingJudgement:
    """Whether a reading after a fill can be believed. Never a refusal: the reading stands."""

    is_plausible: bool
    expected: Prediction
    mixing_index: float
    causes: tuple[Cause, ...]


AIR_IN = Cause("air_in", "Air is getting in: a drain, vent or valve left open, or a leak.")
ANALYSER = Cause("analyser", "The analyser is out of calibration, or sampled room air.")
DEAD_LEG = Cause("dead_leg", "A dead leg far from the flow path has not mixed yet.")
FEED_WRONG = Cause("feed", "The feed gas is not what the plan says; check the cylinder label.")
SHORT_CIRCUIT = Cause(
    "short_circuit", "Nitrogen ran straight from the injection port to the vent past the rest."
)
TOO_EARLY = Cause("too_early", "The reading was taken before the gas had time to mix.")
WATER_LEFT = Cause("water_left", "Water is left in the pipe and parts it into pockets.")
CAUSES: Final = (AIR_IN, ANALYSER, DEAD_LEG, FEED_WRONG, SHORT_CIRCUIT, TOO_EARLY, WATER_LEFT)


def update_mixing(
    prior: MixingIndex, fills: Sequence[MeasuredFill], *, reading_sd: float = READING_SD
) -> MixingIndex:
    """Belief about the mixing index after measured fills, normal with the moments of the grid.

    Equation: weight(eta) ~ prior(eta) * product of N(y_1; y_s + (y_0 - y_s) r**eta, v), with
    v = s**2 (1 + r**(2 eta)) + [(y_0 - y_s) r**eta ln(r) f]**2: the reading error s comes in with
    the reading before and the one after, f is the scatter from fill to fill.
    Notes: fills whose start is not above the feed teach nothing and are passed over.
    Source: own derivation, Bayes' rule on a grid of 497 indexes from 0.02 to 2.5.
    """
    if prior.is_exact:
        return prior
    require_positive(reading_sd=reading_sd)
    with np.errstate(divide="ignore"):
        score = np.log(prior.weights())
    for fill in fills:
        if fill.start_oxygen > fill.feed_oxygen:
            score = score + _log_likelihood(fill, reading_sd)
    weights = np.exp(score - score.max())
    weights /= weights.sum()
    mean = float(weights @ _NODES)
    variance = float(weights @ (_NODES - mean) ** 2)
    return MixingIndex(mean, math.sqrt(variance))


def _log_likelihood(fill: MeasuredFill, reading_sd: float) -> Array:
    left = _remaining(fill.pressure_ratio, _NODES)
    expected = fill.feed_oxygen + (fill.start_oxygen - fill.feed_oxygen) * left
    above_feed = fill.start_oxygen - fill.feed_oxygen
    sd = _reading_spread(above_feed, fill.pressure_ratio, left, reading_sd)
    result: Array = -0.5 * ((fill.oxygen - expected) / sd) ** 2 - np.log(sd)
    return result


def _reading_spread(
    above_feed: float,
    pressure_ratio: float,
    left: Array,
    reading_sd: float,
    scatter: float = FILL_SCATTER,
) -> Array:
    """Standard deviation of the reading for a given index: two meter errors and fill scatter."""
    slope = above_feed * left * math.log(pressure_ratio)
    result: Array = np.sqrt(reading_sd**2 * (1.0 + left**2) + (slope * scatter) ** 2)
    return result


def _remaining(pressure_ratio: float, index: Array) -> Array:
    ok = 0 < pressure_ratio < 1
    require(ok, "pressure_ratio", pressure_ratio, "between 0 and 1")
    result: Array = pressure_ratio**index
    return result


def predict_next(
    mixing: MixingIndex,
    *,
    start_oxygen: float,
    feed_oxygen: float,
    pressure_ratio: float,
    reading_sd: float = READING_SD,
) -> Prediction:
    """Median and 80 % band of the next meter reading, nitrogen in percent.

    Parameters: start_oxygen, measured oxygen before the fill; reading_sd of each reading.
    """
    readings = _possible_readings(mixing, start_oxygen, feed_oxygen, pressure_ratio, reading_sd)
    low, middle, high = np.quantile(readings, [0.1, 0.5, 0.9])
    return Prediction(
        n2_percent=float(n2_percent(middle)),
        low=float(n2_percent(high)),
        high=float(n2_percent(low)),
    )


def _possible_readings(
    mixing: MixingIndex, start: float, feed: float, pressure_ratio: float, reading_sd: float
) -> Array:
    """Equally likely oxygen readings: 200 indexes times 10 reading errors, kept within 0 to 1."""
    index = mixing.quantile((np.arange(200) + 0.5) / 200)
    left = _remaining(pressure_ratio, index)
    scatter = 0.0 if mixing.is_exact else FILL_SCATTER
    spread = _reading_spread(start - feed, pressure_ratio, left, reading_sd, scatter)
    expected = feed + (start - feed) * left
    return np.clip(expected[:, None] + spread[:, None] * _ERRORS, 0.0, 1.0).ravel()


def judge_reading(
    mixing: MixingIndex, fill: MeasuredFill, *, reading_sd: float = READING_SD
) -> ReadingJudgement:
    """Whether the reading after a fill fits what was believed before it, and if not, why.

    Implausible means: outside the 98 % band of what could have been read, or oxygen below the
    feed's by more than the reading error allows.
    """
    possible = _possible_readings(
        mixing, fill.start_oxygen, fill.feed_oxygen, fill.pressure_ratio, reading_sd
    )
    low, high = np.quantile(possible, [IMPLAUSIBLE_TAIL, 1.0 - IMPLAUSIBLE_TAIL])
    below_feed = fill.oxygen < fill.feed_oxygen - 2.0 * reading_sd
    too_rich = below_feed or fill.oxygen < low - reading_sd
    too_poor = fill.oxygen > high + reading_sd
    return ReadingJudgement(
        is_plausible=not (too_rich or too_poor),
        expected=predict_next(
            mixing,
            start_oxygen=fill.start_oxygen,
            feed_oxygen=fill.feed_oxygen,
            pressure_ratio=fill.pressure_ratio,
            reading_sd=reading_sd,
        ),
        mixing_index=float(
            fitted_mixing_index(
                fill.start_oxygen, fill.oxygen, fill.feed_oxygen, fill.pressure_ratio
            )
        ),
        causes=_causes(fill, below_feed=below_feed, too_rich=too_rich, too_poor=too_poor),
    )


def _causes(
    fill: MeasuredFill, *, below_feed: bool, too_rich: bool, too_poor: bool
) -> tuple[Cause, ...]:
    """Likely causes, likeliest first."""
    if below_feed:
        return (ANALYSER, FEED_WRONG)
    if too_rich:
        return (SHORT_CIRCUIT, TOO_EARLY, ANALYSER)
    if too_poor and fill.oxygen >= fill.start_oxygen:
        return (AIR_IN, ANALYSER, FEED_WRONG)
    if too_poor:
        return (WATER_LEFT, DEAD_LEG, TOO_EARLY, AIR_IN, ANALYSER)
    return ()
