import pytest

from registry.quantities import echo_quantity, format_quantity, shape_quantity

PSI = 6894.757293168361


@pytest.mark.parametrize(
    ("value", "dimension", "us", "si"),
    [
        (30 * PSI, "pressure", "30 psi gauge", "2.07 bar gauge"),
        (175 * PSI, "pressure", "175 psi gauge", "12.07 bar gauge"),
        (-0.5 * PSI, "pressure", "-0.5 psi gauge", "-0.03 bar gauge"),
        (1.5 * PSI, "pressure_difference", "1.5 psi", "0.103 bar"),
        (2858 * 0.3048, "length", "2,858 ft", "871.1 m"),
        (3.048, "wall", "0.12 in", "3.048 mm"),
        (0.00003, "wall", "0.0000012 in", "0.00003 mm"),
        (0.0, "wall", "0 in", "0 mm"),
        (500 * 3.785411784e-3, "volume", "500 gal", "1,892.7 L"),
        (12.5, "volume", "3,302.2 gal", "12.5 m³"),
        (0.05, "area", "77.5 in²", "500 cm²"),
        (134.9, "area", "1,452.1 ft²", "134.9 m²"),
        (293.15, "temperature", "68 °F", "20 °C"),
        (255.3722222222, "temperature", "0 °F", "-17.8 °C"),
        (98.046, "percent", "98.05 %", "98.05 %"),
        (5400, "duration", "90 min", "90 min"),
        (0.005, "mass", "0.176 oz", "5 g"),
    ],
)
def test_values_are_shown_in_both_systems(value, dimension, us, si):
    assert format_quantity(value, dimension, "us") == us
    assert format_quantity(value, dimension, "si") == si


def test_a_column_can_keep_its_trailing_zeros():
    assert format_quantity(30 * PSI, "pressure", "us", fixed=True) == "30.0 psi gauge"


def test_number_and_unit_come_apart_for_a_page():
    shape = shape_quantity(30 * PSI, "pressure", "si")
    assert (shape.number, shape.unit) == ("2.07", "bar gauge")


def test_the_echo_speaks_the_other_system():
    assert echo_quantity(30 * PSI, "pressure", "us") == "= 2.07 bar gauge"
    assert echo_quantity(30 * PSI, "pressure", "si") == "= 30 psi gauge"
