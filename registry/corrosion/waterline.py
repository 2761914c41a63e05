"""Diffusion near a waterline: where between gas, still water and steel the oxygen is spent.

Gas and steel meet at the waterline under an angle, with a wedge of still water between. Oxygen
that reaches the steel at distance x from the waterline has crossed the rust film delta and an arc
alpha x of water, so the flux there is D C / (delta + alpha x): strongest at the waterline, falling
off as the wedge opens. Pockets under the crown and pools at the bottom are the two cases.

Source: own derivation. Without film, D C/(alpha x) is the exact steady solution for a wedge with a
saturated surface and a wall that uses all oxygen; the film is put in series with it.
"""

import math
from functools import cache

import numpy as np

from registry.corrosion.types import Array, Real, plain, require, require_positive


def segment_angle(fill: Real) -> Real:
    """Angle at the pipe's centre that spans a circular segment, rad.

    Equation: fill = (beta - sin beta)/(2 pi), solved by Newton's method.
    Parameters: fill : share of the cross-section, above 0 and below 1.
    Example: half full
    >>> round(segment_angle(0.5) / math.pi, 6)
    1.0
    """
    s = np.asarray(fill, dtype=float)
    require(~((s <= 0) | (s >= 1)), "fill", fill, "above 0 and below 1")
    return plain(_segment_angle(float(s)) if s.ndim == 0 else _solved(s))


@cache
def _segment_angle(fill: float) -> float:
    return float(_solved(np.array([fill]))[0])


def _solved(fill: Array) -> Array:
    small = np.minimum(fill, 1.0 - fill)
    beta = np.minimum(np.cbrt(12.0 * math.pi * small), math.pi)
    beta = np.where(fill > 0.5, 2.0 * math.pi - beta, beta)
    for _ in range(60):
        step = (beta - np.sin(beta) - 2.0 * math.pi * fill) / np.maximum(1.0 - np.cos(beta), 1e-9)
        beta = np.clip(beta - step, 1e-6, 2.0 * math.pi - 1e-6)
        if np.max(np.abs(step), initial=0.0) < 1e-14:
            break
    return beta


def wedge_angle(water: Real) -> Real:
    """Angle of the water's wedge at the waterline, rad: between the surface and the steel."""
    return plain(0.5 * np.asarray(segment_angle(water)))


def reach_of_half(diameter: Real, water: Real, film: Real) -> Real:
    """Distance from the waterline within which half of the oxygen is spent, m.

    Equation: x_half = (delta/alpha) [sqrt(1 + alpha l/delta) - 1], l the wetted arc.
    Notes: the oxygen spent within x goes as ln(1 + alpha x/delta).
    """
    require_positive(film=film)
    return plain(half_reach(diameter, segment_angle(water), film))


def half_reach(diameter: Real, span: Real, film: Real) -> Real:
    """`reach_of_half` by the angle that the water spans at the centre, rad."""
    angle = 0.5 * np.asarray(span)
    ratio = angle * np.asarray(span) * np.asarray(diameter) / (4.0 * np.asarray(film))
    return plain(np.asarray(film) / angle * (np.sqrt(1.0 + ratio) - 1.0))


def conductance(diameter: Real, water: Real, film: Real) -> Real:
    """Oxygen flow to the steel of both sides per metre of pipe, over D C, dimensionless.

    Equation: (2/alpha) ln(1 + alpha l/delta).
    """
    require_positive(film=film)
    return plain(both_sides(diameter, segment_angle(water), film))


def both_sides(diameter: Real, span: Real, film: Real) -> Real:
    """`conductance` by the angle that the water spans at the centre, rad."""
    angle = 0.5 * np.asarray(span)
    ratio = angle * np.asarray(span) * np.asarray(diameter) / (4.0 * np.asarray(film))
    return plain(2.0 / angle * np.log1p(ratio))


def strip_film(diameter: Real, water: Real, film: Real) -> Real:
    """Film that would give the strip within `reach_of_half` its mean flux, m.

    Equation: D C/delta_eff = (half of one side's flow) / x_half.
    """
    flow = np.asarray(conductance(diameter, water, film)) / 4.0
    return plain(np.asarray(reach_of_half(diameter, water, film)) / flow)
