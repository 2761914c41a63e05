"""Wall thickness: rates from readings, remaining life, required wall, wall lost to joints."""

import math
from typing import Final

import numpy as np

from registry.corrosion.types import (
    Real,
    plain,
    require,
    require_fraction,
    require_not_negative,
    require_positive,
)

INCH: Final = 0.0254

_THREADS_PER_INCH: Final = {15: 14.0, 20: 14.0, 25: 11.5, 32: 11.5, 40: 11.5, 50: 11.5}
_CUT_GROOVE_DEPTH_IN: Final = {
    25: 0.063, 32: 0.063, 40: 0.063, 50: 0.063, 65: 0.078, 80: 0.078, 90: 0.083,
    100: 0.083, 125: 0.084, 150: 0.085, 200: 0.092, 250: 0.094, 300: 0.109,
}  # fmt: skip

STRUCTURAL_MINIMUM_IN: Final = {
    15: 0.07, 20: 0.07, 25: 0.07, 32: 0.07, 40: 0.07, 50: 0.07, 65: 0.08, 80: 0.08, 90: 0.09,
    100: 0.09, 125: 0.11, 150: 0.11, 200: 0.11, 250: 0.11, 300: 0.11,
}  # fmt: skip
"""Least wall of carbon steel pipe by DN, inches: API RP 574, from memory, check the document."""


def long_term_rate(initial: Real, actual: Real, years: Real) -> Real:
    """Mean wall loss since installation, m/yr: (t_initial - t_actual) / years.

    Source: API 570, corrosion rate determination.
    """
    require_positive(initial=initial, actual=actual, years=years)
    return plain((np.asarray(initial) - np.asarray(actual)) / np.asarray(years))


def governing_rate(long_term: Real, short_term: Real) -> Real:
    """The greater of the long-term and the short-term rate, m/yr. Source: API 570."""
    return plain(np.maximum(long_term, short_term))


def remaining_life(actual: Real, required: Real, rate: Real) -> Real:
    """Years until the wall falls to what is required; NaN where there is no measurable loss.

    Equation: (t_actual - t_required) / rate, never below zero.
    Example:
    >>> round(remaining_life(0.375, 0.250, 0.020), 2)
    6.25

    Source: API 570, remaining life calculations.
    """
    require_not_negative(actual=actual, required=required)
    speed = np.asarray(rate, dtype=float)
    margin = np.maximum(np.asarray(actual) - np.asarray(required), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return plain(np.where(speed > 0, margin / speed, np.nan))


def inspection_interval(life: Real, most: Real = 10.0) -> Real:
    """Years to the next thickness survey: the lesser of half the remaining life and `most`.

    Notes: NaN life (no measurable loss) gives `most`. The class maxima of API 570 are 5, 10 and
    10 years, from memory, check the adopted edition.
    Source: API 570, half-life rule.
    """
    return plain(np.fmin(0.5 * np.asarray(life, dtype=float), most))


def barlow_thickness(gauge: Real, outside_diameter: Real, stress: Real, joint: Real = 1.0) -> Real:
    """Wall needed against pressure by Barlow's formula, in the unit of the diameter.

    Equation: t = P D / (2 S E), P and S in one unit.
    """
    require_positive(outside_diameter=outside_diameter, stress=stress, joint=joint)
    return plain(np.asarray(gauge) * outside_diameter / (2.0 * np.asarray(stress) * joint))


def pressure_thickness(
    gauge: Real, outside_diameter: Real, stress: Real, joint: Real = 1.0, factor: Real = 0.4
) -> Real:
    """Wall needed against pressure, in the unit of the diameter.

    Equation: t = P D / [2 (S E + P Y)].
    Source: ASME B31.3, equation 3a, from memory.
    """
    require_positive(outside_diameter=outside_diameter, stress=stress, joint=joint)
    p = np.asarray(gauge)
    return plain(p * outside_diameter / (2.0 * (np.asarray(stress) * joint + p * factor)))


def structural_minimum(dn: int) -> float:
    """Least wall that keeps carbon steel pipe serviceable, m; governs over pressure here."""
    require(dn in STRUCTURAL_MINIMUM_IN, "dn", dn, f"one of {list(STRUCTURAL_MINIMUM_IN)}")
    return STRUCTURAL_MINIMUM_IN[dn] * INCH


def thread_height(dn: int) -> float:
    """Height of a taper pipe thread, m: what threading takes from the wall.

    Equation: h = 0.8 p, p = 1 in / threads per inch (14, 11.5 or 8).
    Source: ASME B1.20.1, from memory, check the primary document.
    """
    return 0.8 * INCH / _THREADS_PER_INCH.get(dn, 8.0)


def cut_groove_depth(dn: int) -> float:
    """Depth of a cut groove, m. A rolled groove takes no wall.

    Source: AWWA C606, from memory, check the primary document.
    """
    return _CUT_GROOVE_DEPTH_IN.get(dn, 0.109) * INCH


THREADABLE: Final = 1.2e-3
"""Wall that has to be left under a thread for pipe to be threaded at all, m. Assumed: Schedule 40
leaves 1.3 mm or more, Schedule 10 up to 1.0 mm."""


def likely_joint(wall: float, dn: int, joint: str) -> str:
    """The joint itself, or what an unknown one counts as: threaded up to DN 50 where the wall
    would allow a thread, else one that takes no wall.
    """
    if joint != "unknown":
        return joint
    return "threaded" if dn <= 50 and wall > thread_height(dn) + THREADABLE else "roll_grooved"


def wall_at_joints(wall: float, dn: int, joint: str) -> float:
    """Wall left at the joints, m: all of it less the thread or the cut groove.

    Notes: an unknown joint counts as `likely_joint`. Never below a fifth of the wall: a thinner
    remainder could not have been made.
    """
    require_positive(wall=wall)
    kind, taken = likely_joint(wall, dn, joint), 0.0
    if kind == "threaded":
        taken = thread_height(dn)
    elif kind == "cut_grooved":
        taken = cut_groove_depth(dn)
    return max(wall - taken, 0.2 * wall)


def b31g_pressure(
    diameter: float, wall: float, yield_strength: float, depth: float, length: float
) -> float:
    """Pressure at which a blunt metal-loss area would fail, in the unit of `yield_strength`.

    Equation: z = L**2/(D t); S = 1.1 SMYS (1 - 2/3 d/t) / (1 - 2/3 d/(t M)), M = sqrt(1 + 0.8 z)
    for z <= 20, else 1.1 SMYS (1 - d/t); P = 2 S t/D.
    Notes: written for line pipe; an indicator only here, where leaks and not bursts are usual.
    Source: ASME B31G, original method with a flow stress of 1.1 SMYS.
    """
    require_positive(diameter=diameter, wall=wall, yield_strength=yield_strength, length=length)
    share = depth / wall
    require_fraction(depth_over_wall=share)
    z = length**2 / (diameter * wall)
    flow_stress = 1.1 * yield_strength
    if z > 20.0:
        strength = flow_stress * (1.0 - share)
    else:
        bulge = math.sqrt(1.0 + 0.8 * z)
        strength = flow_stress * (1.0 - share * 2 / 3) / (1.0 - share * 2 / 3 / bulge)
    return 2.0 * strength * wall / diameter
