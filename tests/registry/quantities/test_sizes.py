import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion.dimensions import dn_from_nominal_size, nominal_sizes
from registry.quantities import DN_BY_SIZE, SIZES, QuantityError, parse_nominal_size


@pytest.mark.parametrize(
    ("typed", "size"),
    [
        ('1-1/4"', "1-1/4"),
        ("1 1/4", "1-1/4"),
        ("1 - 1/4 in", "1-1/4"),
        ("1¼", "1-1/4"),
        ("1.25", "1-1/4"),
        (1.25, "1-1/4"),
        ("DN32", "1-1/4"),
        ("dn 32", "1-1/4"),
        ("32 mm", "1-1/4"),
        ("2½”", "2-1/2"),
        ("4 inch", "4"),
        ("4''", "4"),
        (4, "4"),
        ("4.0", "4"),
        ("6 in", "6"),
        ("NPS 6", "6"),
        ("DN100", "4"),
        ("3/4", "3/4"),
    ],
)
def test_sizes_are_read_as_people_type_them(typed, size):
    assert parse_nominal_size(typed) == size


@pytest.mark.parametrize(
    ("typed", "wrong", "right"),
    [
        ('7"', "no pipe is made", 'The nearest sizes are 6" and 8".'),
        ("DN99", "no pipe is made", "The nearest sizes are DN90 and DN100."),
        ("0.25", "no pipe is made", 'The smallest size here is 1/2".'),
        ("24", "no pipe is made", 'The largest size here is 12".'),
        ("100", "no unit", "Write DN100."),
        ("abc", "not a nominal pipe size", "Write it like 1-1/4 or DN32."),
        ("", "not a nominal pipe size", "Write it like 1-1/4 or DN32."),
        ("1,5", "is not a nominal pipe size", "Write it like 1-1/4 or DN32."),
        ("9" * 100, "too long", "Write it like 1-1/4 or DN32."),
    ],
)
def test_a_size_not_made_is_answered_with_its_neighbours(typed, wrong, right):
    with pytest.raises(QuantityError) as caught:
        parse_nominal_size(typed)
    assert wrong in caught.value.wrong
    assert caught.value.right == right


def test_sizes_and_dn_are_those_of_the_pipe_tables():
    assert list(SIZES) == nominal_sizes("black_steel")
    assert {size: dn_from_nominal_size(size) for size in SIZES} == DN_BY_SIZE


@given(st.text(max_size=70))
def test_any_text_gives_a_size_or_a_quantity_error(text):
    try:
        assert parse_nominal_size(text) in SIZES
    except QuantityError as error:
        assert str(error)
