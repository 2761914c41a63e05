import pytest

from registry.imports.numerals import COMMA, POINT, is_open, proves, with_point


@pytest.mark.parametrize(
    ("typed", "form"),
    [
        ("12,5", COMMA), ("1.234,5", COMMA), ("1 234,5 m", COMMA), ("12.5", POINT),
        ("1,234.5 ft", POINT), ("1'234.5", POINT), ("1.234", None), ("1,234", None), ("12", None),
        ("2 858", None),
    ],
)  # fmt: skip
def test_only_some_numerals_say_which_sign_parts_the_decimals(typed, form):
    assert proves(typed) == form


@pytest.mark.parametrize(("typed", "is_it"), [("1.234", True), ("12,500 m", True), ("12,5", False),
                                              ("0.125", False), ("40", False)])  # fmt: skip
def test_a_numeral_of_two_values_is_open(typed, is_it):
    assert is_open(typed) is is_it


@pytest.mark.parametrize(
    ("typed", "form", "text"),
    [
        ("1.234", COMMA, "1234"), ("1.234", POINT, "1.234"), ("1,234 ft", POINT, "1234 ft"),
        ("1 234,5 m", COMMA, "1234.5 m"), ("abc", COMMA, "abc"),
    ],
)  # fmt: skip
def test_the_form_of_the_file_settles_it(typed, form, text):
    assert with_point(typed, form) == text
