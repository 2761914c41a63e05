"""The one rule of comma and point, case by case, for readers of both languages; the phone's
program is held against the same cases in `tests/registry/phone`."""

import json
from pathlib import Path

import pytest
from django import forms
from django.utils.translation import override

from registry.fields import OpenNumber, QuantityField
from registry.quantities import OpenQuantityError, input_text, parse_quantity
from registry.quantities.numerals import NumberError, TwoReadingsError, read_number, tidy

CASES = json.loads((Path(__file__).parent / "numerals.json").read_text(encoding="utf-8"))
SIGNS = {".": "en", ",": "es"}
BY_READER = [(case["typed"], sign, case[SIGNS[sign]]) for case in CASES for sign in SIGNS]


@pytest.mark.parametrize(("typed", "sign", "said"), BY_READER)
def test_a_number_is_read_as_its_reader_writes_it_or_asked_about(typed, sign, said):
    with override(SIGNS[sign]):
        if not isinstance(said, list):
            assert read_number(tidy(typed)) == said
            return
        with pytest.raises(TwoReadingsError) as caught:
            read_number(tidy(typed))
        assert list(caught.value.readings) == said
        assert all(reading in str(caught.value) for reading in said)
        large, small = (read_number(reading) for reading in said)
        assert large == pytest.approx(1000 * small)


@pytest.mark.parametrize("sign", SIGNS)
@pytest.mark.parametrize("typed", ["", ",", ".", "1,2,3", "1.2.3", "1,23,456", "1.234,5.6", "abc"])
def test_what_is_no_number_is_refused_in_both_languages(typed, sign):
    with pytest.raises(NumberError):
        read_number(typed, sign)


class Typed(forms.Form):
    amount = forms.FloatField(required=False)
    price = forms.DecimalField(required=False, decimal_places=3)
    days = forms.IntegerField(required=False)
    pressure = QuantityField(dimension="pressure", required=False)
    nitrogen = QuantityField(dimension="percent", required=False)


@pytest.mark.parametrize(
    ("language", "typed"), [("es", "1,125"), ("en", "1.125"), ("es", "1,125 "), ("en", "1.125 ")]
)
def test_every_field_reads_the_readers_own_decimal_sign(language, typed):
    with override(language):
        form = Typed({"amount": typed, "price": typed, "pressure": f"{typed} bar"})
        assert form.is_valid(), form.errors
    assert form.cleaned_data["amount"] == float(form.cleaned_data["price"]) == 1.125
    assert form.cleaned_data["pressure"] == pytest.approx(112_500)


@pytest.mark.parametrize(("language", "typed"), [("es", "1.125"), ("en", "1,125")])
@pytest.mark.parametrize("name", ["amount", "price", "pressure"])
def test_every_field_asks_what_the_other_sign_means_and_says_both_numbers(language, typed, name):
    with override(language):
        form = Typed({name: typed + (" bar" if name == "pressure" else "")})
        (error,) = form.errors[name].as_data()
    assert isinstance(error, OpenNumber)
    own = "1,125" if language == "es" else "1.125"
    assert [meant.removesuffix(" bar") for meant in error.meant] == ["1125", own]
    assert "1125" in form.errors[name][0] and own in form.errors[name][0]
    assert typed in str(form[name])  # what was typed stays


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("typed", ["1125", "1 125"])
def test_a_whole_number_is_whole(language, typed):
    with override(language):
        form = Typed({"days": typed})
        assert form.is_valid() and form.cleaned_data["days"] == 1125


def test_a_sign_that_parts_thousands_can_only_do_so_in_a_whole_number():
    for language, typed in (("en", "1,125"), ("es", "1.125")):
        with override(language):
            assert Typed({"days": typed}).fields["days"].clean(typed) == 1125
    with override("es"), pytest.raises(forms.ValidationError):
        Typed().fields["days"].clean("1,125")  # one and an eighth is no whole number


def test_no_number_is_left_to_the_browser_which_may_drop_its_comma():
    with override("es"):
        page = Typed(initial={"amount": 1.125, "days": 7}).as_p()
    assert 'type="number"' not in page
    assert 'value="1,125"' in page and 'value="7"' in page
    assert page.count('inputmode="decimal"') == 3


@pytest.mark.parametrize("language", ["en", "es"])
def test_an_edit_field_shows_what_its_reader_would_type(language):
    with override(language):
        shown = input_text(1.125, "wall", "si")
        assert shown == ("1,125 mm" if language == "es" else "1.125 mm")
        assert parse_quantity(shown, "wall").value_si == 1.125


def test_a_quantity_that_is_asked_about_offers_both_with_their_unit():
    with override("es"), pytest.raises(OpenQuantityError) as caught:
        parse_quantity("1.125 bar", "pressure")
    assert caught.value.meant == ("1125 bar", "1,125 bar")


def test_text_that_a_program_wrote_is_read_alike_whoever_asks():
    with override("es"):
        assert parse_quantity("1.125 bar", "pressure", decimal=".").value_si == 112_500
