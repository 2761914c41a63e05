import math
import string

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from registry.quantities import (
    DIMENSIONS,
    QuantityError,
    format_quantity,
    input_text,
    parse_quantity,
)

# NIST Special Publication 811 (2008), appendix B.8, factors to the digits printed there
# (from memory, check the primary document); exact factors are in bold type there.
NIST_SP_811 = [
    ("1 ft", "length", 0.3048, 0),
    ("1 in", "length", 0.0254, 0),
    ("1 yd", "length", 0.9144, 0),
    ("1 mil", "wall", 0.0254, 0),
    ("1 psi", "pressure", 6894.757, 5e-4),
    ("1 bar", "pressure", 1e5, 0),
    ("1 atm", "pressure", 101_325, 0),
    ("1 kgf/cm2", "pressure", 98_066.5, 0),
    ("1 gal", "volume", 3.785412e-3, 5e-10),
    ("1 imp gal", "volume", 4.54609e-3, 0),
    ("1 ft3", "volume", 2.831685e-2, 5e-9),
    ("1 L", "volume", 1e-3, 0),
    ("1 gpm", "flow", 6.309020e-5, 5e-12),
    ("1 cfm", "flow", 4.719474e-4, 5e-11),
    ("1 scfh", "gas_flow", 7.865790e-6, 5e-12),
    ("1 lb", "mass", 0.45359237, 0),
    ("1 oz", "mass", 2.834952e-2, 5e-9),
    ("1 in2", "area", 6.4516e-4, 0),
    ("32 °F", "temperature", 273.15, 0),
    ("0 °C", "temperature", 273.15, 0),
    ("1 h", "duration", 3600, 0),
]


@pytest.mark.parametrize(("typed", "dimension", "stored", "printed"), NIST_SP_811)
def test_factors_agree_with_nist_sp_811(typed, dimension, stored, printed):
    value = parse_quantity(typed, dimension).value_si
    assert value == pytest.approx(stored, abs=printed or 1e-12 * stored, rel=0)


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        ("2858 ft", 2858 * 0.3048),
        ("2 858 ft", 2858 * 0.3048),
        ("527'", 527 * 0.3048),
        ("527’", 527 * 0.3048),
        ("12' 6\"", 12.5 * 0.3048),
        ("12'-6\"", 12.5 * 0.3048),
        ("12′ 6 1/2″", (12 + 6.5 / 12) * 0.3048),
        ("12 ft. 6 in.", 12.5 * 0.3048),
        ("28'", 28 * 0.3048),
        ("197.5 m", 197.5),
        ("197.5M", 197.5),
        ("1½ in", 1.5 * 0.0254),
        ("1-1/4 in", 1.25 * 0.0254),
        (".5 m", 0.5),
        ("1e2 m", 100),
        ("1,234,567.5 mm", 1234.5675),
    ],
)
def test_lengths_are_read_as_people_type_them(typed, metres):
    assert parse_quantity(typed, "length").value_si == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "gauge_pa", "reference"),
    [
        ("30 psi", 206_842.7188, None),
        ("30 psig", 206_842.7188, "gauge"),
        ("30 PSI gauge", 206_842.7188, "gauge"),
        ("2.1 bar", 210_000, None),
        ("2.1 bar(g)", 210_000, "gauge"),
        ("3 bara", 300_000 - 101_325, "absolute"),
        ("200 kPa abs", 200_000 - 101_325, "absolute"),
        ("0 psia", -101_325, "absolute"),
        ("1.2 MPa", 1_200_000, None),
    ],
)
def test_pressure_is_gauge_unless_typed_absolute(typed, gauge_pa, reference):
    quantity = parse_quantity(typed, "pressure")
    assert quantity.value_si == pytest.approx(gauge_pa, rel=1e-9)
    assert quantity.reference == reference


def test_an_absolute_pressure_is_converted_with_the_air_of_the_place():
    at_altitude = parse_quantity("3 bara", "pressure", atmosphere_pa=83_400)
    assert at_altitude.value_si == pytest.approx(216_600)


@pytest.mark.parametrize(
    ("typed", "kelvin"),
    [("68 degF", 293.15), ("68 F", 293.15), ("20 C", 293.15), ("20 °C", 293.15), ("293 K", 293.0),
     ("-40 °C", 233.15), ("-40 °F", 233.15)],
)  # fmt: skip
def test_temperatures_are_read_with_their_zero(typed, kelvin):
    assert parse_quantity(typed, "temperature").value_si == pytest.approx(kelvin, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "dimension", "stored"),
    [
        ("98", "percent", 98),
        ("98 %", "percent", 98),
        ("98.0%", "percent", 98),
        ("98 % N2", "percent", 98),
        ("0.120 in", "wall", 3.048),
        ("77 µm", "wall", 0.077),
        ("3 mil", "wall", 0.0762),
        ("2 lb 3 oz", "mass", 2 * 0.45359237 + 3 * 0.028349523125),
        ("1 h 30 min", "duration", 5400),
        ("8.5 mg/L", "concentration", 8.5),
        ("0.05 %", "ppm", 500),
        ("3 mpy", "corrosion_rate", 0.0762),
        ("-3 m", "altitude", -3),
        ("1609 m", "altitude", 1609),
    ],
)
def test_other_dimensions_are_read(typed, dimension, stored):
    assert parse_quantity(typed, dimension).value_si == pytest.approx(stored, rel=1e-9)


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        ("1,5 m", 1.5),
        ("0,500 m", 0.5),
        ("12,34 m", 12.34),
        ("1.234,5 m", 1234.5),
        ("1,234.5 m", 1234.5),
    ],
)
def test_a_comma_is_a_point_unless_it_parts_thousands(typed, metres):
    assert parse_quantity(typed, "length").value_si == pytest.approx(metres)


@pytest.mark.parametrize(
    ("typed", "dimension", "words"),
    [
        ("abc", "length", "does not begin with a number"),
        ("", "length", "nothing was typed"),
        ("40", "length", "the unit is missing"),
        ("-40 m", "length", "a length cannot be negative"),
        ("1.2.3 m", "length", "not a number"),
        ("3 psi", "length", "psi measures a pressure"),
        ("3 m", "pressure", "m measures a length"),
        ("5 - 10 ft", "length", "a range"),
        ("12' 13\"", "length", "not a part of one ft"),
        ("3/0 m", "length", "0 below the line"),
        ("9**9**9", "length", "not a unit"),
        ("10**(10**8) m", "length", "not a unit"),
        ("nan psi", "pressure", "does not begin with a number"),
        ("inf psi", "pressure", "does not begin with a number"),
        ("1e400 psi", "pressure", "too large"),
        ("1e30 psi", "pressure", "larger than any real one"),
        ("9" * 500 + " psi", "pressure", "too long"),
        ("-20 psi", "pressure", "below a perfect vacuum"),
        ("-1 psia", "pressure", "absolute pressure cannot be negative"),
        ("-500 °F", "temperature", "below absolute zero"),
        ("101 %", "percent", "more than 100 %"),
        ("-1 %", "percent", "cannot be negative"),
        ("__import__('os') m", "length", "does not begin with a number"),
        ("١٢ m", "length", "does not begin with a number"),
    ],
)
def test_bad_text_is_answered_with_what_is_wrong_and_what_would_be_right(typed, dimension, words):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(typed, dimension)
    error = caught.value
    assert words in error.wrong
    assert error.right.startswith("Write it like ")
    assert error.typed == typed
    assert len(str(error)) < 300


def test_a_bare_number_is_read_in_the_unit_that_was_agreed():
    assert parse_quantity("175", "pressure", default_unit="psi").value_si == pytest.approx(
        1_206_582.5, rel=1e-6
    )


def test_every_example_in_a_message_is_itself_right():
    for name, kind in DIMENSIONS.items():
        for example_text in kind.examples.values():
            parse_quantity(example_text, name)


@given(text=st.text(max_size=80), dimension=st.sampled_from(sorted(DIMENSIONS)))
@example(text="9**9**9", dimension="length")
@example(text="1" + ",000" * 14, dimension="length")
@example(text="1 " * 29, dimension="length")
def test_any_text_gives_a_finite_value_or_a_quantity_error(text, dimension):
    try:
        value = parse_quantity(text, dimension).value_si
    except QuantityError:
        return
    assert math.isfinite(value)


NEARLY = st.text(alphabet=string.digits + " .,-/'\"eE+mftinpsgabr%", max_size=60)


@given(text=NEARLY, dimension=st.sampled_from(["length", "pressure", "mass", "percent"]))
def test_text_made_of_numerals_and_units_never_breaks_the_reader(text, dimension):
    try:
        assert math.isfinite(parse_quantity(text, dimension).value_si)
    except QuantityError as error:
        assert str(error)


def stored_values(name: str) -> st.SearchStrategy[float]:
    kind = DIMENSIONS[name]
    # Below 200 K six digits of °F are too few; at the very limit rounding may step over it.
    lowest = 200.0 if name == "temperature" else max(0.99 * kind.lowest, -1e5)
    return st.floats(lowest, min(0.99 * kind.highest, 1e6))


@given(
    data=st.data(), name=st.sampled_from(sorted(DIMENSIONS)), units=st.sampled_from(["us", "si"])
)
def test_what_an_edit_field_shows_reads_back_to_six_digits(data, name, units):
    value = data.draw(stored_values(name))
    # six digits are shown, of the value in the unit shown; absolute zero and small leftovers
    # of an offset scale need an absolute allowance
    again = parse_quantity(input_text(value, name, units), name).value_si
    assert again == pytest.approx(value, rel=5e-6, abs=1e-6)


@given(
    data=st.data(), name=st.sampled_from(sorted(DIMENSIONS)), units=st.sampled_from(["us", "si"])
)
def test_what_a_page_shows_reads_back_within_the_digits_shown(data, name, units):
    value = data.draw(stored_values(name))
    kind = DIMENSIONS[name]
    shown = [choice for choice in kind.shown[units] if abs(value) >= choice.at_least][-1]
    step = parse_quantity(f"1 {shown.symbol}", name).value_si
    if name == "temperature":
        step = 1.0
    again = parse_quantity(format_quantity(value, name, units).replace(",", " "), name).value_si
    assert again == pytest.approx(value, abs=0.51 * step * 10**-shown.decimals, rel=1e-12)
