"""Nitrogen in high-pressure cylinders: real-gas content, whole cylinders, time at a flow."""

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from registry.corrosion.constants import (
    GAS_CONSTANT,
    GAS_STATE_PRESSURE,
    GAS_STATE_TEMPERATURE,
    STANDARD_ATMOSPHERE,
)
from registry.corrosion.types import (
    Array,
    Real,
    plain,
    require,
    require_not_negative,
    require_positive,
)

# Short technical equation of state for nitrogen, terms n * delta**d * tau**t * exp(-delta**l).
# Span & Wagner, Equations of State for Technical Applications II, Int. J. Thermophys. 24 (2003)
# 41-109, coefficients from memory; the test compares the result with a reference equation.
CRITICAL_TEMPERATURE = 126.192  # K
CRITICAL_DENSITY = 11183.9  # mol/m3
_N = np.array(
    [0.92296567, -2.5575012, 0.64482463, 0.010831020, 0.073924167, 2.3532962e-4]
    + [0.18024854, -0.045660299, -0.15521060, -0.038111490, -0.031962422, 0.015513532]
)
_D = np.array([1.0, 1.0, 1.0, 2.0, 3.0, 7.0, 2.0, 5.0, 1.0, 4.0, 3.0, 4.0])
_T = np.array([0.25, 1.125, 1.5, 1.375, 0.25, 0.875, 0.625, 1.75, 3.625, 3.625, 14.5, 12.0])
_L = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0])
_DAMPED = (_L > 0).astype(float)

MIN_TEMPERATURE, MAX_TEMPERATURE = 230.0, 350.0  # K, where the comparison was made
MAX_PRESSURE = 42e6  # Pa absolute, about 6000 psig


@dataclass(frozen=True, slots=True)
class CylinderSize:
    """A generic size of nitrogen cylinder. Full pressure is the one stamped, at 21.1 C."""

    key: str
    label: str
    water_volume_m3: float
    full_pressure_gauge_pa: float
    source: str
    how_known: str


@cache
def cylinder_sizes() -> dict[str, CylinderSize]:
    """Generic sizes by key, largest content first."""
    text = files("registry.corrosion").joinpath("data/cylinder_sizes.csv").read_text("utf-8")
    return {
        row["key"]: CylinderSize(
            key=row["key"],
            label=row["label"],
            water_volume_m3=float(row["water_volume_l"]) / 1000.0,
            full_pressure_gauge_pa=float(row["full_pressure_gauge_psi"]) * 6894.757293168,
            source=row["source"],
            how_known=row["how_known"],
        )
        for row in csv.DictReader(text.splitlines())
    }


def _compressibility_at(density: Array, temperature: Array) -> Array:
    """Z = 1 + delta d(alpha_r)/d(delta), density in mol/m3."""
    delta = (density / CRITICAL_DENSITY)[..., None]
    tau = (CRITICAL_TEMPERATURE / temperature)[..., None]
    power = np.where(_L > 0, delta**_L, 0.0)
    terms = _N * delta**_D * tau**_T * np.exp(-power) * (_D - _L * power)
    total: Array = 1.0 + terms.sum(axis=-1)
    return total


def compressibility(pressure: Real, temperature: Real) -> Real:
    """Compressibility factor Z of nitrogen, dimensionless.

    Equation: P = rho R T Z(rho, T); rho is found by 30 damped fixed-point steps.
    Parameters: pressure [Pa absolute], 0 to 42 MPa; temperature [K], 230 to 350.
    Raises: ValueError outside those ranges.
    Notes: within 0.3 % of the reference equation from 0 to 3000 psig and 250 to 320 K.
    Example: at 2000 psig and 70 degF
    >>> round(compressibility(13.8909e6, 294.26), 3)
    1.016

    Source: Span & Wagner, Int. J. Thermophys. 24 (2003) 41-109, short equation, nitrogen.
    """
    p = np.asarray(pressure, dtype=float)
    t = np.asarray(temperature, dtype=float)
    require(~((p < 0) | (p > MAX_PRESSURE)), "pressure", pressure, "from 0 to 42 MPa absolute")
    ok = ~((t < MIN_TEMPERATURE) | (t > MAX_TEMPERATURE))
    require(ok, "temperature", temperature, "from 230 to 350 K")
    p, t = np.broadcast_arrays(p, t)
    factor = np.ones_like(p)
    for _ in range(30):
        density = p / (factor * GAS_CONSTANT * t)
        factor = 0.5 * (factor + _compressibility_at(density, t))
    return plain(factor)


def nitrogen_density(pressure: Real, temperature: Real) -> Real:
    """Molar density of nitrogen as a real gas, mol/m3; ranges as `compressibility`."""
    factor = compressibility(pressure, temperature)
    return plain(np.asarray(pressure) / (factor * GAS_CONSTANT * np.asarray(temperature)))


def nitrogen_content(
    water_volume: Real,
    gauge: Real,
    *,
    temperature: Real = GAS_STATE_TEMPERATURE,
    atmosphere: Real = STANDARD_ATMOSPHERE,
) -> Real:
    """All nitrogen in a cylinder at a gauge pressure, m3 at 101.325 kPa and 21.1 C.

    Equation: V_std = V_w rho(P, T) / rho(P_std, T_std).
    Example: 49 L at 2640 psig holds about 300 cubic feet
    >>> round(nitrogen_content(0.049, 2640 * 6894.757) / 0.0283168)
    300
    """
    require_positive(water_volume=water_volume)
    density = np.asarray(nitrogen_density(np.asarray(gauge) + atmosphere, temperature))
    standard = nitrogen_density(GAS_STATE_PRESSURE, GAS_STATE_TEMPERATURE)
    return plain(np.asarray(water_volume) * density / standard)


def usable_nitrogen(
    water_volume: Real,
    full_gauge: Real,
    reserve_gauge: Real = 0.0,
    *,
    temperature: Real = GAS_STATE_TEMPERATURE,
    atmosphere: Real = STANDARD_ATMOSPHERE,
) -> Real:
    """Nitrogen a cylinder gives from full down to a reserve pressure, m3 at 101.325 kPa, 21.1 C.

    Equation: content at full less content at reserve; see `nitrogen_content`.
    Parameters: water_volume V_w [m3]; full_gauge, reserve_gauge [Pa gauge]; temperature [K];
    atmosphere [Pa absolute].
    Raises: ValueError when the reserve is above the full pressure.
    Notes: full pressure as it stands at `temperature`; fast emptying cools the gas and gives
    less until the cylinder has warmed up again.
    """
    require_positive(water_volume=water_volume)
    require_not_negative(reserve_gauge=reserve_gauge)
    ok = ~(np.asarray(reserve_gauge) > np.asarray(full_gauge))
    require(ok, "reserve_gauge", reserve_gauge, "no higher than the full pressure")
    full, reserve = (
        np.asarray(
            nitrogen_content(water_volume, g, temperature=temperature, atmosphere=atmosphere)
        )
        for g in (full_gauge, reserve_gauge)
    )
    return plain(full - reserve)


def cylinders_needed(nitrogen: float, usable_each: float) -> int:
    """Whole cylinders for an amount of nitrogen, both in m3 of the same standard state."""
    require_not_negative(nitrogen=nitrogen)
    require_positive(usable_each=usable_each)
    return math.ceil(nitrogen / usable_each - 1e-9)


def time_at_flow(nitrogen: Real, flow: Real) -> Real:
    """Seconds to pass `nitrogen` [standard m3] through a regulator at `flow` [standard m3/s]."""
    require_not_negative(nitrogen=nitrogen)
    require_positive(flow=flow)
    return plain(np.asarray(nitrogen) / np.asarray(flow))
