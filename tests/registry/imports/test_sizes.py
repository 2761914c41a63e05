import pytest

from registry.imports.cells import UnknownWord
from registry.imports.sizes import DN, INCHES, Size, read_size
from registry.imports.text import DAY, NUMBER
from registry.quantities import QuantityError


def read(typed, unit=None, **chosen):
    words = {f"nominal_size:{key}": value for key, value in chosen.items()}
    return read_size(typed, unit=unit, chosen=words)


@pytest.mark.parametrize(
    ("typed", "nominal"),
    [
        ('6"', "6"), ("DN100", "4"), ("1 1/4", "1-1/4"), (NUMBER + "1.25", "1-1/4"),
        ("1¼ Zoll", "1-1/4"),
        ('1"1/4', "1-1/4"), ("R 1 1/4", "1-1/4"), ("2 pouces", "2"), ("26/34", "1"),
        ("102/114", "4"),
        ("42,4", "1-1/4"), ("Ø114.3", "4"), ("60.3 mm", "2"), ("76,1", "2-1/2"), ("NW 65", "2-1/2"),
        ("100 NB", "4"), ("NS 100", "4"), ("100", "4"), ("DN 100 (114,3)", "4"), ("3/4", "3/4"),
    ],
)  # fmt: skip
def test_sizes_of_all_countries_are_read(typed, nominal):
    assert read(typed).nominal == nominal


def test_a_diameter_and_a_wall_in_one_cell_give_both():
    assert read("60,3 x 2,9") == Size("2", 60.3, 2.9)
    assert read("Ø76,1x2,6") == Size("2-1/2", 76.1, 2.6)


def test_a_number_alone_is_what_the_column_says():
    assert read("65", DN).nominal == "2-1/2"
    assert read("4", INCHES).nominal == "4"
    with pytest.raises(QuantityError):
        read("4", DN)


@pytest.mark.parametrize("typed", [DAY + "2026-03-04", "2026-03-04", "4-Mar"])
def test_a_size_that_a_spreadsheet_made_a_date_is_asked_about(typed):
    with pytest.raises(UnknownWord) as caught:
        read(typed)
    assert "3/4" in caught.value.ask.options
    assert caught.value.wrong.startswith("a spreadsheet program made a date of this size")


def test_the_answer_settles_it():
    assert read(DAY + "2026-03-04", **{"2026 03 04": "3/4"}).nominal == "3/4"


@pytest.mark.parametrize("typed", ["60", "114", "168 mm", "42"])
def test_a_rounded_outside_diameter_is_asked_about(typed):
    with pytest.raises(UnknownWord, match="rounded"):
        read(typed)


def test_what_stands_beside_a_wall_is_an_outside_diameter():
    assert read("54x1,5") == Size("2", 54.0, 1.5)
    assert read("28 mm x 1.2 mm") == Size("1", 28.0, 1.2)
    assert read("DN 50 x 2.9") == Size("2", None, 2.9)
    with pytest.raises(QuantityError):
        read("97,0x3,6")
    with pytest.raises(UnknownWord):
        read("54 mm")
