from types import SimpleNamespace

import pytest
from django import forms

from registry.fields import NominalSizeField, QuantityField, use_units

PSI = 6894.757293168361


class Gauge(forms.Form):
    pressure = QuantityField(dimension="pressure", minimum=0.0, maximum=300 * PSI)
    length = QuantityField(dimension="length", required=False)
    size = NominalSizeField(required=False)


def test_a_quantity_cleans_to_the_stored_unit():
    form = Gauge({"pressure": "2.1 bar", "length": "12' 6\"", "size": "DN32"})
    assert form.is_valid()
    assert form.cleaned_data == {
        "pressure": pytest.approx(210_000),
        "length": pytest.approx(3.81),
        "size": "1-1/4",
    }


def test_an_empty_optional_quantity_cleans_to_none():
    form = Gauge({"pressure": "30 psi"})
    assert form.is_valid()
    assert form.cleaned_data["length"] is None


def test_what_was_typed_stays_and_the_error_says_what_would_be_right():
    form = Gauge({"pressure": "30", "length": "1,5 m"})
    assert form.errors["pressure"] == [
        "“30”: the unit is missing. Write it like 30 psi or 2.1 bar."
    ]
    assert 'value="1,5 m"' in str(form["length"])


@pytest.mark.parametrize(
    ("typed", "words"),
    [("-1 psi", "at least 0 psi gauge"), ("400 psi", "at most 300 psi gauge")],
)
def test_limits_are_told_in_the_units_of_the_person(typed, words):
    assert words in Gauge({"pressure": typed}).errors["pressure"][0]


def test_an_absolute_pressure_uses_the_air_at_the_site():
    form = Gauge({"pressure": "3 bara"})
    use_units(form, SimpleNamespace(display_units="si"), atmosphere_pa=83_400)
    assert form.is_valid()
    assert form.cleaned_data["pressure"] == pytest.approx(216_600)


def test_the_field_speaks_the_units_of_the_person():
    form = Gauge(initial={"pressure": 30 * PSI})
    use_units(form, SimpleNamespace(display_units="si"))
    html = str(form["pressure"])
    assert 'data-unit="bar gauge"' in html
    assert "for example 2.1 bar" in html
    assert 'value="2.06843 bar"' in html
    assert Gauge().fields["pressure"].units == "us"


def test_saving_an_untouched_field_is_no_change():
    form = Gauge(
        {"pressure": "2.06843 bar", "length": "", "size": ""}, initial={"pressure": 30 * PSI}
    )
    use_units(form, SimpleNamespace(display_units="si"))
    assert form.changed_data == []


def test_the_echo_tells_what_was_understood_and_is_silent_otherwise():
    field = Gauge().fields["pressure"]
    assert field.echo("30 psi") == "2.07 bar gauge"
    assert field.echo(30 * PSI) == "2.07 bar gauge"
    assert field.echo("thirty") == ""
