"""Where water left in gas-filled pipe eats it: the waterlines of pools at low points."""

import numpy as np

from registry.corrosion.constants import GAS_CONSTANT, MOLAR_MASS_OXYGEN
from registry.corrosion.rates import YEAR, oxygen_diffusivity, steel_depth_per_oxygen
from registry.corrosion.types import Real, plain
from registry.corrosion.water import dissolved_oxygen_under_gas
from registry.corrosion.waterline import conductance, strip_film


def oxygen_supply(pressure: Real, temperature: Real) -> Real:
    """D C below pure oxygen at the gas's absolute pressure, kg/(m s); linear in the fraction."""
    dissolved = np.asarray(dissolved_oxygen_under_gas(1.0, pressure, temperature))
    return plain(np.asarray(oxygen_diffusivity(temperature)) * dissolved)


def pool_rate(supply: Real, diameter: Real, *, fill: Real, film: Real) -> Real:
    """Penetration of the strips along a pool's waterlines per mole fraction of oxygen, m/yr.

    Equation: D C(1) nu / (delta_eff rho), delta_eff of `waterline.strip_film`.
    Parameters: supply of `oxygen_supply`; diameter, inside [m]; fill, share of the section that
    is water; film [m].
    Notes: diffusion-limited with magnetite as product. The film is fitted to published steady
    rates under rust, see the assumptions. At high pressure steel may passivate; ignored.
    """
    flux = np.asarray(supply) / np.asarray(strip_film(diameter, fill, film))
    return plain(flux * steel_depth_per_oxygen() * YEAR)


def pool_uptake(supply: Real, diameter: Real, *, fill: Real, film: Real) -> Real:
    """Oxygen that a metre of pool takes per mole fraction, kg/(m yr)."""
    return plain(np.asarray(supply) * np.asarray(conductance(diameter, fill, film)) * YEAR)


def pool_consumption(uptake: Real, volume: Real, pressure: Real, temperature: Real) -> Real:
    """Share of a pipe's gas-phase oxygen that its pools take each year, 1/yr.

    Equation: k = uptake / (V P M_O2/(R T)).
    Parameters: uptake of all pools [kg/yr per mole fraction]; volume V of gas [m3]; pressure P
    [Pa absolute]; temperature [K].
    Notes: with a turnover L of make-up gas of oxygen y_s the pipe settles at y_s L/(L + k), so a
    tight system starves its own corrosion: supply caps the rate without a separate rule.
    Source: own derivation, mole balance of the gas above the pools.
    """
    density = np.asarray(pressure) * MOLAR_MASS_OXYGEN / (GAS_CONSTANT * np.asarray(temperature))
    content = np.asarray(volume) * density
    with np.errstate(divide="ignore", invalid="ignore"):
        return plain(np.where(content > 0, np.asarray(uptake) / content, 0.0))
