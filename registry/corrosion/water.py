"""Oxygen in water: saturation in open air, and what a pipe's gas holds dissolved below it."""

import numpy as np

from registry.corrosion.constants import (
    MOLAR_MASS_OXYGEN,
    MOLAR_MASS_WATER,
    STANDARD_ATMOSPHERE,
)
from registry.corrosion.types import Array, Real, plain, require, require_positive

CRITICAL_TEMPERATURE = 647.096  # K, IAPWS R2-83
CRITICAL_PRESSURE = 22.064e6  # Pa, IAPWS R2-83

# IAPWS G7-04, table 2: ln(k_H / p_sat) = A/T_r + B tau**0.355/T_r + C T_r**-0.41 exp(tau)
_HENRY = {"oxygen": (-9.44833, 4.43822, 11.42005), "nitrogen": (-9.67578, 4.72162, 11.70585)}

# IAPWS SR1-86, equation 1 (Wagner & Pruss): coefficients and exponents of tau
_SATURATION = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)

FREEZING, HOTTEST = 273.15, 373.15  # K


def _liquid(temperature: Real) -> Array:
    t = np.asarray(temperature, dtype=float)
    ok = ~((t < FREEZING) | (t > HOTTEST))
    require(ok, "temperature", temperature, "from 273.15 to 373.15 K (0 to 100 C)")
    return t


def saturation_pressure(temperature: Real) -> Real:
    """Vapour pressure of water, Pa.

    Equation: ln(p/p_c) = (T_c/T) sum(a_i tau**n_i), tau = 1 - T/T_c.
    Parameters: temperature : [K], 273.15 to 373.15.
    Example:
    >>> round(saturation_pressure(298.15))
    3170
    >>> round(saturation_pressure(293.15))
    2339

    Source: IAPWS SR1-86(1992), equation 1; Wagner & Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783.
    """
    t = _liquid(temperature)
    tau = 1.0 - t / CRITICAL_TEMPERATURE
    terms = sum((a * tau**n for a, n in _SATURATION), np.zeros_like(tau))
    return plain(CRITICAL_PRESSURE * np.exp(CRITICAL_TEMPERATURE / t * terms))


def water_density(temperature: Real) -> Real:
    """Density of water at 1 atm, kg/m3.

    Source: Kell, J. Chem. Eng. Data 20 (1975) 97, equation 16, 0 to 150 C.
    """
    t = _liquid(temperature) - 273.15
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 + t * -280.54253e-12)))
    )
    return plain(top / (1.0 + 16.879850e-3 * t))


def henry_constant(temperature: Real, gas: str = "oxygen") -> Real:
    """Henry constant of a gas in water, fugacity over mole fraction, Pa.

    Equation: ln(k_H/p_sat) = A/T_r + B tau**0.355/T_r + C T_r**-0.41 exp(tau), T_r = T/T_c.
    Parameters: temperature : [K]; gas : "oxygen" or "nitrogen".
    Notes: fitted from 274 K (oxygen) and 278 K (nitrogen) up; used down to 273.15 K.
    Example:
    >>> round(henry_constant(298.15) / 1e6, 1)
    4364.1

    Source: IAPWS G7-04, equation 3 and table 2 (Fernandez-Prini, Alvarez & Harvey).
    """
    if gas not in _HENRY:
        raise ValueError(f"gas is {gas!r}; it must be one of {', '.join(_HENRY)}")
    a, b, c = _HENRY[gas]
    reduced = _liquid(temperature) / CRITICAL_TEMPERATURE
    tau = 1.0 - reduced
    exponent = (a + b * tau**0.355) / reduced + c * reduced**-0.41 * np.exp(tau)
    return plain(np.asarray(saturation_pressure(temperature)) * np.exp(exponent))


def dissolved_oxygen_under_gas(oxygen: Real, pressure: Real, temperature: Real) -> Real:
    """Oxygen dissolved in water below a gas, at equilibrium, kg/m3 (1e-3 kg/m3 is 1 mg/L).

    Equation: x = y (P - p_sat)/k_H, C = x rho_w M_O2/M_w.
    Parameters: oxygen y : mole fraction of dry gas; pressure P : [Pa absolute]; temperature [K].
    Notes: pressure counts as much as purity: 98 % nitrogen at 30 psig holds 2.7 mg/L.
    Source: Henry's law with IAPWS G7-04; dilute, ideal gas.
    """
    require_positive(pressure=pressure)
    dry = np.maximum(np.asarray(pressure) - np.asarray(saturation_pressure(temperature)), 0.0)
    fraction = np.asarray(oxygen) * dry / henry_constant(temperature)
    density = np.asarray(water_density(temperature))
    return plain(fraction * density * (MOLAR_MASS_OXYGEN / MOLAR_MASS_WATER))


def saturated_oxygen(temperature: Real, pressure: Real = STANDARD_ATMOSPHERE) -> Real:
    """Dissolved oxygen of fresh water in open moist air, kg/m3 (9.09e-3 at 20 C and 1 atm).

    Equation: ln C* = -139.34411 + 1.575701e5/T - 6.642308e7/T2 + 1.243800e10/T3 - 8.621949e11/T4
    (mg/L), times P [(1 - p_v/P)(1 - theta P)] / [(1 - p_v)(1 - theta)], P and p_v in atm.
    Parameters: temperature : [K], fitted for 0 to 40 C; pressure : [Pa absolute].
    Source: Standard Methods 4500-O (Benson & Krause 1984); pressure correction from memory,
    check the primary document.
    """
    t = _liquid(temperature)
    require_positive(pressure=pressure)
    atm = np.asarray(pressure) / STANDARD_ATMOSPHERE
    at_one_atm = np.exp(
        -139.34411 + 1.575701e5 / t - 6.642308e7 / t**2 + 1.243800e10 / t**3 - 8.621949e11 / t**4
    )
    celsius = t - 273.15
    theta = 0.000975 - 1.426e-5 * celsius + 6.436e-8 * celsius**2
    vapour = np.exp(11.8571 - 3840.70 / t - 216961.0 / t**2)
    wet = np.maximum(1.0 - vapour / atm, 0.0)
    factor = atm * wet * (1.0 - theta * atm) / ((1.0 - vapour) * (1.0 - theta))
    return plain(1e-3 * at_one_atm * factor)


def langelier_index(
    ph: Real, dissolved_solids: Real, temperature: Real, calcium: Real, alkalinity: Real
) -> Real:
    """Langelier saturation index of calcium carbonate, dimensionless; below 0 dissolves it.

    Equation: LSI = pH - [(9.3 + A + B) - (C + D)], A = (log TDS - 1)/10,
    B = -13.12 log T + 34.55, C = log Ca - 0.4, D = log alkalinity.
    Parameters: dissolved_solids [mg/L]; temperature [K]; calcium, alkalinity [mg/L as CaCO3].
    Notes: water that dissolves the scale is not for that reason corrosive to steel.
    Source: Carrier's approximation, from memory, check the primary document.
    """
    require_positive(dissolved_solids=dissolved_solids, calcium=calcium, alkalinity=alkalinity)
    a = (np.log10(dissolved_solids) - 1.0) / 10.0
    b = -13.12 * np.log10(_liquid(temperature)) + 34.55
    c = np.log10(calcium) - 0.4
    d = np.log10(alkalinity)
    return plain(np.asarray(ph) - (9.3 + a + b - c - d))
