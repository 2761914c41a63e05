"""Chances of a leak -> expected cost. Plain numbers; arrays work as well as single ones."""

from typing import Any, Final

import numpy as np

YEARS: Final = 5


def expected_a_year(leak_in_5_yr: Any, leak_price: Any) -> Any:
    """Expected cost of the first leak within five years, as an average over those years.

    chance within five years x price of one leak / 5. [currency a year]
    Notes: the first leak alone is counted; what follows a leak is a repair, and with it another
    chance. Own derivation: the mean of a cost that falls due once or not at all.
    """
    return leak_in_5_yr * leak_price / YEARS


def chance_at(leak_in_5_yr: float, score: float, other: float) -> float:
    """The chance of a leak within five years of the same system at another score.

    score = 100 (1 - exp(-c H)), so the hazard H = -ln(1 - P) becomes
    H ln(1 - other / 100) / ln(1 - score / 100), whatever the consequence c.
    """
    if score <= 0:
        return leak_in_5_yr
    most = 1 - 1e-9
    before, then = (np.log1p(-min(one / 100, most)) for one in (score, other))
    return float(-np.expm1(float(then / before) * np.log1p(-min(leak_in_5_yr, most))))


def chance_with(leak_in_5_yr: float, score: float, score_then: float) -> float:
    """The chance after a measure: one that brings no lower score leaves it as it is."""
    return min(chance_at(leak_in_5_yr, score, min(score_then, score)), leak_in_5_yr)


def saved_a_year(leak_in_5_yr: float, score: float, score_then: float, leak_price: float) -> float:
    """Expected cost that a measure takes away. [currency a year]"""
    spared = leak_in_5_yr - chance_with(leak_in_5_yr, score, score_then)
    return float(expected_a_year(spared, leak_price))


def added_a_year(
    leak_in_5_yr: float, score: float, score_without: float, leak_price: float
) -> float:
    """Expected cost that an event put on, against the score without it. [currency a year]
    Below zero where it spared some."""
    added = leak_in_5_yr - chance_at(leak_in_5_yr, score, score_without)
    return float(expected_a_year(added, leak_price))


def chances_by_year(leak_in_1_yr: Any, leak_in_5_yr: Any) -> np.ndarray:
    """The chance that the first leak comes in year 1, 2, 3, 4, 5; they add up to the five-year one.

    The hazard H = -ln(1 - P) is known after one and after five years and taken to grow evenly
    between; the chance of year k is exp(-H(k-1)) - exp(-H(k)). Shape (5,) or (5, n).
    """
    first, last = np.asarray(leak_in_1_yr, float), np.asarray(leak_in_5_yr, float)
    with np.errstate(divide="ignore", invalid="ignore"):  # a leak that is certain
        begin, end = -np.log1p(-np.minimum(first, 1)), -np.log1p(-np.minimum(last, 1))
        step = np.where(np.isfinite(end), (end - begin) / (YEARS - 1), np.inf)
    hazards = [begin] + [begin + step * year for year in range(1, YEARS)]
    hazards[-1] = end
    held = np.exp(-np.stack([np.zeros_like(begin), *hazards]))
    return held[:-1] - held[1:]


def expected_by_year(leak_in_1_yr: Any, leak_in_5_yr: Any, leak_price: Any) -> np.ndarray:
    """Expected cost of the first leak in each of five years. [currency]"""
    return chances_by_year(leak_in_1_yr, leak_in_5_yr) * leak_price
