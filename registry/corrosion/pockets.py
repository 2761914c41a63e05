"""Where trapped gas eats water-filled pipe: the waterlines of a pocket under the crown.

Gas left behind by a water fill is squeezed by the service pressure into pockets at high points.
How deep one fill eats follows from geometry alone: the trapped amount sets how many metres of
pocket there are, not how deep each is.
"""

import math

import numpy as np

from registry.corrosion.constants import GAS_CONSTANT, MOLAR_MASS_OXYGEN
from registry.corrosion.rates import steel_depth_per_oxygen
from registry.corrosion.types import Real, plain
from registry.corrosion.waterline import reach_of_half


def strip_depth(
    oxygen: Real, pressure: Real, temperature: Real, diameter: Real, *, fill: Real, film: Real
) -> Real:
    """Mean depth of the waterline strips when a pocket's oxygen is all spent, m.

    Equation: h = [y P M_O2/(R T)] [s pi d**2/4] nu / (4 rho x_half), nu iron per oxygen to Fe3O4:
    half of the oxygen is spent on two strips of width x_half (see `waterline`).
    Parameters: oxygen y : mole fraction; pressure P of the water in service [Pa absolute];
    temperature [K]; diameter d, inside [m]; fill s, share of the section that is gas; film [m].
    Notes: linear in oxygen and pressure; grows about as d**1.5 and as one over the root of film.
    Example: NPS 4 Schedule 10, air, 150 psig, 20 C, in micrometres
    >>> round(1e6 * strip_depth(0.2095, 1.1355e6, 293.15, 0.1082, fill=0.2, film=2e-3))
    50

    Source: own derivation, mole balance of a pocket one metre long.
    """
    density = np.asarray(pressure) * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * np.asarray(temperature))
    section = np.asarray(fill) * math.pi / 4.0 * np.asarray(diameter) ** 2
    reach = np.asarray(reach_of_half(diameter, 1.0 - np.asarray(fill), film))
    return plain(np.asarray(oxygen) * density * section / (4.0 * reach) * steel_depth_per_oxygen())


def pocket_share(trapped: Real, atmosphere: Real, pressure: Real, fill: Real) -> Real:
    """Length of pocket per length of pipe, m/m, at most 1.

    Equation: phi (P_atm/P) / s: gas trapped at atmospheric pressure, then compressed.
    """
    squeezed = np.asarray(trapped) * np.asarray(atmosphere) / np.asarray(pressure)
    return plain(np.minimum(squeezed / np.asarray(fill), 1.0))


def dissolved_depth(dissolved: Real, diameter: Real) -> Real:
    """Steel spent by the oxygen dissolved in one filling of water, spread over the bore, m.

    Equation: C (d/4) nu/rho. Small: 0.03 um in NPS 1-1/4.
    """
    spread = np.asarray(dissolved) * np.asarray(diameter) / 4.0
    return plain(spread * steel_depth_per_oxygen())
