"""Where trapped gas eats water-filled pipe: the waterlines of a pocket under the crown.

Gas left behind by a water fill keeps its place, at dead ends and high stretches, and is squeezed
there by the service pressure: the waterline rises, and no oxygen comes of it. How deep one fill
eats follows from geometry alone: the trapped amount sets how many metres of pocket there are, not
how deep each is.
"""

import math

import numpy as np

from registry.corrosion.constants import GAS_CONSTANT, MOLAR_MASS_OXYGEN
from registry.corrosion.rates import YEAR, steel_depth_per_oxygen
from registry.corrosion.types import Real, plain
from registry.corrosion.waterline import both_sides, reach_of_half

MOST_FILL = 0.98
"""No pocket fills the whole section: some water lies below it."""


def strip_depth(
    oxygen: Real, pressure: Real, temperature: Real, diameter: Real, *, fill: Real, film: Real
) -> Real:
    """Mean depth of the waterline strips when a pocket's oxygen is all spent, m.

    Equation: h = [y P M_O2/(R T)] [s pi d**2/4] nu / (4 rho x_half), nu iron per oxygen to Fe3O4:
    half of the oxygen is spent on two strips of width x_half (see `waterline`).
    Parameters: oxygen y : mole fraction; pressure P of the water in service [Pa absolute];
    temperature [K]; diameter d, inside [m]; fill s, share of the section that is gas; film [m].
    Notes: linear in oxygen and in pressure times fill, which pressing does not change; grows about
    as d**1.5 and as one over the root of film.
    Example: NPS 4 Schedule 10, air, 150 psig, 20 C, in micrometres
    >>> round(1e6 * strip_depth(0.2095, 1.1355e6, 293.15, 0.1082, fill=0.2, film=2e-3))
    50

    Source: own derivation, mole balance of a pocket one metre long.
    """
    density = np.asarray(pressure) * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * np.asarray(temperature))
    section = np.asarray(fill) * math.pi / 4.0 * np.asarray(diameter) ** 2
    reach = np.asarray(reach_of_half(diameter, 1.0 - np.asarray(fill), film))
    return plain(np.asarray(oxygen) * density * section / (4.0 * reach) * steel_depth_per_oxygen())


def pocket_share(trapped: Real, fill: Real) -> Real:
    """Length of pocket per length of pipe, m/m, at most 1: the share of the volume that stayed gas
    over the share of the section it took, both at the pressure of filling.
    """
    return plain(np.minimum(np.asarray(trapped) / np.asarray(fill), 1.0))


def pressed_fill(fill: Real, filling: Real, pressure: Real) -> Real:
    """Share of the section that a pocket takes once it is pressed from `filling` to `pressure`.

    Equation: s = s_0 P_0 / P at constant temperature and length; its oxygen is conserved.
    """
    share = np.asarray(fill) * np.asarray(filling) / np.asarray(pressure)
    return plain(np.clip(share, 1e-4, MOST_FILL))


def pocket_decay(
    supply: Real, diameter: Real, span: Real, *, fill: Real, film: Real, density: Real
) -> Real:
    """Share of its oxygen that a pocket loses to the steel each year, 1/yr.

    Equation: D C(1) g / (s pi d**2/4 P M_O2/(R T)), g the conductance of both waterlines.
    Parameters: supply of `pools.oxygen_supply`; span, angle that the water below it spans; density
    of pure oxygen at the pocket's pressure [kg/m3].
    Notes: 6.7 d for NPS 1, 79 d for NPS 4, 1.5 years for NPS 12, each a fifth full.
    """
    taken = np.asarray(supply) * np.asarray(both_sides(diameter, span, film)) * YEAR
    held = np.asarray(fill) * math.pi / 4.0 * np.asarray(diameter) ** 2 * np.asarray(density)
    return plain(taken / held)


def dissolved_depth(dissolved: Real, diameter: Real) -> Real:
    """Steel spent by the oxygen dissolved in one filling of water, spread over the bore, m.

    Equation: C (d/4) nu/rho. Small: 0.03 um in NPS 1-1/4.
    """
    spread = np.asarray(dissolved) * np.asarray(diameter) / 4.0
    return plain(spread * steel_depth_per_oxygen())
