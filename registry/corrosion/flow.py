"""Friction loss in sprinkler pipe, for what roughness and nitrogen do to a calculation."""

import numpy as np

from registry.corrosion.types import Real, plain, require_not_negative, require_positive

HAZEN_WILLIAMS_SI = 6.05e5  # bar/m with L/min and mm
BAR, LITRE_PER_MINUTE = 1e5, 1e-3 / 60.0


def friction_loss(flow: Real, diameter: Real, roughness_c: Real) -> Real:
    """Pressure lost to friction per length of full pipe, Pa/m.

    Equation: p = 6.05e5 Q**1.85 / (C**1.85 d**4.87) in bar/m, L/min and mm.
    Parameters: flow [m3/s]; diameter, inside [m]; roughness_c, Hazen-Williams C.
    Source: NFPA 13, hydraulic calculation chapter, SI form, from memory; agrees with the US form
    4.52 Q**1.85 / (C**1.85 d**4.87) to 0.02 %.
    """
    require_not_negative(flow=flow)
    require_positive(diameter=diameter, roughness_c=roughness_c)
    litres = np.asarray(flow, dtype=float) / LITRE_PER_MINUTE
    millimetres = np.asarray(diameter) * 1000.0
    bar = HAZEN_WILLIAMS_SI * (litres / np.asarray(roughness_c)) ** 1.85 / millimetres**4.87
    return plain(bar * BAR)


def friction_ratio(roughness_c: Real, reference_c: Real) -> Real:
    """Friction at one Hazen-Williams C over that at another: (C_ref / C)**1.85."""
    require_positive(roughness_c=roughness_c, reference_c=reference_c)
    return plain((np.asarray(reference_c, dtype=float) / np.asarray(roughness_c)) ** 1.85)
