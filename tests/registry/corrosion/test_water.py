import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import water
from registry.corrosion.gas import site_atmosphere

temperatures = st.floats(273.15, 333.15)
CELSIUS = [0.01, 5.0, 10.0, 20.0, 30.0, 40.0]


@pytest.mark.parametrize("celsius", CELSIUS)
def test_saturation_in_open_air_agrees_with_gsw(props_si, celsius):
    """gsw.O2sol takes conservative temperature, so the practical-scale form is the right one."""
    import gsw

    per_kilogram = gsw.O2sol_SP_pt(0.0, celsius) * 1e-6 * 31.9988e-3
    expected = per_kilogram * props_si("D", "T", celsius + 273.15, "P", 101325, "Water")
    assert water.saturated_oxygen(celsius + 273.15) == pytest.approx(expected, rel=4e-4)


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen"])
@pytest.mark.parametrize("celsius", [10.0, 25.0, 40.0])
def test_henry_constants_agree_with_the_iapws_library(gas, celsius):
    from iapws._iapws import _Henry

    symbol = {"oxygen": "O2", "nitrogen": "N2"}[gas]
    expected = 1e6 * _Henry(celsius + 273.15, symbol)
    assert water.henry_constant(celsius + 273.15, gas) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("celsius", [5.0, 20.0, 40.0])
def test_oxygen_under_a_gas_agrees_with_phreeqc_within_one_percent(celsius):
    """phreeqc.dat has no vapour correction, so it gets the dry partial pressure. The two Henry
    constants differ by 0.2 to 0.8 %: a fit of 2004 against one of the 1990s."""
    from phreeqpython import PhreeqPython

    partial = 0.02 * (308000.0 - water.saturation_pressure(celsius + 273.15)) / 101325.0
    solution = PhreeqPython(database="phreeqc.dat").add_solution({"temp": celsius})
    solution.equalize(["O2(g)"], [math.log10(partial)])
    expected = 1e-3 * solution.total("O2", units="mmol") * 31.998
    ours = water.dissolved_oxygen_under_gas(0.02, 308000.0, celsius + 273.15) * 1e3
    assert ours == pytest.approx(expected * 1e3, rel=0.012)


@pytest.mark.parametrize("celsius", CELSIUS)
def test_vapour_pressure_and_density_agree_with_coolprop(props_si, celsius):
    kelvin = celsius + 273.15
    vapour, density = (
        props_si("P", "T", kelvin, "Q", 0, "Water"),
        props_si("D", "T", kelvin, "P", 101325, "Water"),
    )
    assert water.saturation_pressure(kelvin) == pytest.approx(vapour, rel=1e-4)
    assert water.water_density(kelvin) == pytest.approx(density, rel=1e-5)


@given(st.floats(273.15, 313.15))
def test_henrys_law_and_the_empirical_fit_agree_within_1_5_percent(temperature):
    """Two routes to water in open air: Henry at 20.95 % and the Standard Methods equation. The
    gap grows with temperature; the empirical fit is taken for water let in."""
    henry = water.dissolved_oxygen_under_gas(0.2095, 101325.0, temperature)
    assert henry == pytest.approx(water.saturated_oxygen(temperature), rel=0.015)


def test_high_sites_and_warm_water_hold_less_oxygen():
    heights = site_atmosphere(np.array([0.0, 1000.0, 2000.0, 3000.0]))
    at_height = water.saturated_oxygen(293.15, heights) * 1e3
    assert at_height == pytest.approx([9.092, 8.041, 7.088, 6.226], abs=0.01)
    assert np.all(np.diff(water.saturated_oxygen(np.linspace(273.15, 313.15, 9))) < 0)


def test_purity_without_pressure_says_little():
    """98 % nitrogen at 30 psig holds 30 % of what open air does."""
    under_gas = water.dissolved_oxygen_under_gas(0.02, 44.696 * 6894.757, 293.15)
    assert under_gas / water.saturated_oxygen(293.15) == pytest.approx(0.30, abs=0.01)


@given(st.floats(0, 1), st.floats(5e4, 5e6), temperatures)
def test_dissolved_oxygen_is_finite_and_never_negative(oxygen, pressure, temperature):
    dissolved = water.dissolved_oxygen_under_gas(oxygen, pressure, temperature)
    assert math.isfinite(dissolved) and dissolved >= 0


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: water.saturated_oxygen(250.0), "temperature"),
        (lambda: water.saturated_oxygen(293.15, 0.0), "pressure"),
        (lambda: water.henry_constant(293.15, "argon"), "gas"),
        (lambda: water.langelier_index(7, 0.0, 298.15, 100, 100), "dissolved_solids"),
    ],
)
def test_impossible_input_is_refused_by_name(call, name):
    with pytest.raises(ValueError, match=f"{name} is .*must be"):
        call()
