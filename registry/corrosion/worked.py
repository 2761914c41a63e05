"""Worked examples of others put to the model's own functions, for the table of outside checks."""

import math
from collections.abc import Sequence

import numpy as np

from registry.corrosion.constants import DENSITY_STEEL, IRON_PER_SULPHATE
from registry.corrosion.mixture import Gammas, Leaky, log_sum
from registry.corrosion.normal import normal_cdf
from registry.corrosion.pits import Gumbel
from registry.corrosion.thickness import b31g_pressure
from registry.corrosion.voi import worth_of_information


def gumbel_below(x: float, location: float, scale: float) -> float:
    """Chance that a maximum stays below x."""
    return float(Gumbel(location, scale).cdf(x))


def gumbel_depth(location: float, scale: float, probability: float, areas: float = 1.0) -> float:
    """Depth that the maximum over so many areas stays below with a probability."""
    return float(Gumbel(location, scale).over_areas(areas).quantile(probability))


def gumbel_return(location: float, scale: float, areas: float) -> float:
    return Gumbel(location, scale).at_return_period(areas)


def b31g_safe(
    diameter: float, wall: float, yield_strength: float, factor: float, depth: float, length: float
) -> float:
    """Safe pressure of ASME B31G: the failure pressure with the design factor, at most design."""
    design = 2.0 * yield_strength * wall / diameter * factor
    return min(design, b31g_pressure(diameter, wall, yield_strength, depth, length) * factor)


def chance_of_seeing(share: float, pits: float) -> float:
    """At least one of so many equal pits lies in the inspected share."""
    return float(1.0 - (1.0 - share) ** pits)


def chance_of_hitting(spots: float, pits: float, beam: float, area: float) -> float:
    """At least one of so many spots of a beam's diameter hits one of so many pits."""
    return float(1.0 - (1.0 - pits * math.pi / 4.0 * beam**2 / area) ** spots)


def least_over_area(survival: float, inspected: float, total: float) -> float:
    """Survivor function of the minimum over all, from that over what was inspected."""
    return float(survival ** (total / inspected))


def _log_evidence(shape: float, rate: float, events: int, time: float) -> float:
    """ln of what the model's closed form makes of so many events in a time, one Gamma twice."""
    gammas = Gammas(np.full((1, 2), shape), np.full((1, 2), rate), np.zeros(1))
    power = np.zeros((1, 1, events + 1))
    power[0, 0, events] = 1.0
    leaky = Leaky(np.zeros(1, dtype=np.intp), power, np.zeros((1, 1)))
    return float(log_sum(leaky.log_terms(gammas, np.zeros(1), np.array([time])), (2, 3))[0, 0])


def none_ahead(shape: float, rate: float, events: int, time: float, ahead: float) -> float:
    """Chance of no event in a time ahead, after so many events in `time`."""
    now = _log_evidence(shape, rate, events, time)
    return math.exp(_log_evidence(shape, rate, events, time + ahead) - now)


def mean_rate(shape: float, rate: float, events: int, time: float) -> float:
    """Mean event rate after so many events in `time`: the slope of the evidence."""
    step = 1e-5 * (rate + time)
    later = _log_evidence(shape, rate, events, time + step)
    return (_log_evidence(shape, rate, events, time - step) - later) / (2.0 * step)


def lognormal_mean_rate(median: float, error_factor: float, events: int, time: float) -> float:
    """Mean rate under a lognormal prior, on a grid as fine as that of theta."""
    spread = math.log(error_factor) / 1.6448536269514722
    steps = np.linspace(-4.2, 4.2, 48)
    value = median * np.exp(spread * steps)
    weight = np.exp(-0.5 * steps**2 - value * time) * value**events
    return float((value * weight).sum() / weight.sum())


def bayes(prior: Sequence[float], likelihood: Sequence[float], times: int, state: int) -> float:
    """Posterior of one state after so many equal observations."""
    joint = np.asarray(prior) * np.asarray(likelihood) ** times
    return float(joint[state] / joint.sum())


def thinning_index(factor: float, lost: float, load: float) -> float:
    """Reliability index of thinning by API RP 581: how many deviations wall and strength are off.

    Equation: (1 - D A - S)/sqrt(D^2 A^2 0.2^2 + (1 - D A)^2 0.2^2 + S^2 0.05^2).
    Parameters: factor D on the rate; lost A, share of the wall lost at the expected rate; load S,
    pressure over what the sound wall bears.
    """
    left = 1.0 - factor * lost
    spread = math.sqrt((factor * lost * 0.2) ** 2 + (left * 0.2) ** 2 + (load * 0.05) ** 2)
    return (left - load) / spread


def thinning_failure(
    prior: Sequence[float], likelihood: Sequence[float], times: int, lost: float, load: float
) -> float:
    """Probability of failure by thinning after so many inspections, of rates 1, 2 and 4 times."""
    chance = [bayes(prior, likelihood, times, state) for state in range(3)]
    index = np.array([thinning_index(factor, lost, load) for factor in (1.0, 2.0, 4.0)])
    return float(np.asarray(chance) @ normal_cdf(-index))


def damage_factor(
    prior: Sequence[float], likelihood: Sequence[float], times: int, lost: float, load: float
) -> float:
    """The same over the failure frequency of API RP 581 that a factor of 1 stands for."""
    return thinning_failure(prior, likelihood, times, lost, load) / 1.56e-4


def worth(
    prior: Sequence[float],
    likelihood: Sequence[Sequence[float]],
    costs: Sequence[Sequence[float]],
    part: str,
) -> float:
    found = worth_of_information(np.array(prior), np.array(likelihood), np.array(costs))
    return float(getattr(found, part))


def pits_per_metre(sulphate: float, bore: float, wall: float) -> float:
    """Half spheres through the wall that one filling's sulphate can take, per metre of pipe."""
    iron = sulphate * math.pi / 4.0 * bore**2 * IRON_PER_SULPHATE
    return iron / (2.0 / 3.0 * math.pi * wall**3 * DENSITY_STEEL)


def larson_skold(
    chloride: float, sulphate: float, bicarbonate: float, carbonate: float = 0.0
) -> float:
    """Larson-Skold index of a water, all in kg/m3: (Cl + SO4)/(HCO3 + CO3) in equivalents."""
    return (chloride / 35.45 + sulphate / 48.03) / (bicarbonate / 61.02 + carbonate / 30.0)
