"""A number typed at other doors than a record: the sign at the riser, a file of crews, days."""

import pytest
from django import forms
from django.utils.translation import override

from registry.forms.riser_signs import GaugeForm
from registry.riser_sign.texts import EN, ES
from scheduling.forms.rules import DaysField
from scheduling.planning.said.from_file import RowError, _number


@pytest.mark.parametrize(
    ("texts", "typed"), [(EN, "1.125"), (ES, "1,125"), (EN, "1,12"), (ES, "1.12")]
)
def test_the_sign_reads_in_the_language_of_its_page(texts, typed):
    form = GaugeForm({"gauge": typed, "unit": "bar"}, texts=texts)
    assert form.is_valid()
    assert form.cleaned_data["gauge_pa"] == pytest.approx(112_500, rel=5e-3)


@pytest.mark.parametrize(("texts", "typed"), [(EN, "1,125"), (ES, "1.125")])
def test_the_sign_asks_where_there_are_two_readings(texts, typed):
    form = GaugeForm({"gauge": typed, "unit": "kPa"}, texts=texts)
    assert not form.is_valid()
    assert "1125" in form.errors["gauge"][0]


def test_a_file_of_crews_is_read_as_its_reader_writes():
    with override("es"):
        assert _number({"minutes per m3": "1,125"}, "minutes per m3") == 1.125
        with pytest.raises(RowError, match="1125"):
            _number({"minutes per m3": "1.125"}, "minutes per m3")


def test_days_in_a_row_are_not_one_number():
    assert DaysField().clean("1, 365") == [1, 365]
    with pytest.raises(forms.ValidationError, match="one number or two"):
        DaysField().clean("1,365")
