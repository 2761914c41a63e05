import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion import cylinders
from tests.effort import many

PSI = 6894.757293168
pressures = st.floats(0.0, 21e6)
temperatures = st.floats(240.0, 330.0)


@pytest.mark.parametrize("temperature", [250.0, 273.15, 294.25, 320.0])
def test_density_agrees_with_coolprop_within_0_3_percent_up_to_3000_psig(props_si, temperature):
    pressure = np.linspace(0.0, 3000.0, 31) * PSI + 101325.0
    ours = cylinders.nitrogen_density(pressure, temperature)
    reference = props_si("Dmolar", "T", temperature, "P", pressure, "Nitrogen")
    assert np.max(np.abs(ours / reference - 1.0)) < 0.003


def test_content_down_to_a_reserve_agrees_with_coolprop(props_si):
    full, reserve, temperature = 2265 * PSI, 200 * PSI, 283.15
    ours = cylinders.usable_nitrogen(0.044, full, reserve, temperature=temperature)
    density = props_si(
        "Dmolar", "T", temperature, "P", np.array([full, reserve]) + 101325.0, "Nitrogen"
    )
    standard = props_si("Dmolar", "T", 294.25, "P", 101325.0, "Nitrogen")
    assert ours == pytest.approx(0.044 * (density[0] - density[1]) / standard, rel=0.003)


@given(pressures, temperatures)
def test_equation_of_state_is_solved(pressure, temperature):
    factor = cylinders.compressibility(pressure, temperature)
    density = np.asarray(pressure / (factor * 8.314462618 * temperature))
    again = cylinders._compressibility_at(density, np.asarray(temperature))
    assert float(again) == pytest.approx(factor, abs=1e-9)


@settings(max_examples=many(40), deadline=None)
@given(st.floats(0.0, 15e6), st.floats(1e3, 5e6), temperatures)
def test_a_fuller_cylinder_holds_more(gauge, more, temperature):
    less = cylinders.nitrogen_content(0.05, gauge, temperature=temperature)
    assert cylinders.nitrogen_content(0.05, gauge + more, temperature=temperature) > less


def test_real_gas_holds_less_than_ideal_gas_at_high_pressure():
    ideal = 0.049 * (2640 * PSI + 101325.0) / 101325.0
    assert 0.95 * ideal < cylinders.nitrogen_content(0.049, 2640 * PSI) < 0.97 * ideal


def test_a_cylinder_at_its_reserve_gives_nothing():
    assert cylinders.usable_nitrogen(0.05, 14e5, 14e5) == 0.0


def test_cylinders_are_counted_whole():
    assert cylinders.cylinders_needed(0.0, 6.0) == 0
    assert cylinders.cylinders_needed(6.0, 6.0) == 1
    assert cylinders.cylinders_needed(6.001, 6.0) == 2


def test_time_at_a_flow():
    assert cylinders.time_at_flow(6.0, 0.01) == pytest.approx(600.0)


def test_every_size_says_that_the_stamp_decides():
    for size in cylinders.cylinder_sizes().values():
        assert "stamp on the cylinder" in size.how_known
        assert size.water_volume_m3 < 0.1
        assert 1e7 < size.full_pressure_gauge_pa < 2.5e7


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: cylinders.compressibility(5e7, 294.0), "pressure"),
        (lambda: cylinders.compressibility(1e5, 200.0), "temperature"),
        (lambda: cylinders.usable_nitrogen(0.05, 1e6, 2e6), "reserve_gauge"),
        (lambda: cylinders.usable_nitrogen(0.0, 1e6, 0.0), "water_volume"),
        (lambda: cylinders.cylinders_needed(1.0, 0.0), "usable_each"),
        (lambda: cylinders.time_at_flow(1.0, 0.0), "flow"),
    ],
)
def test_impossible_input_is_refused_by_name(call, name):
    with pytest.raises(ValueError, match=f"{name} is .*must be"):
        call()
