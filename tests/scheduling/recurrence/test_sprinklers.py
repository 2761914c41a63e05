"""Sample tests of sprinklers: NFPA 25 (2017) and (2020), read second hand in public articles."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.recurrence import (
    SampleRule,
    earliest_sample_test,
    next_sample_test,
    sample_size,
)

STANDARD = SampleRule(50, 10, later_from_years=75, later_years=5)
DRY_2017, DRY_2020, HARSH = SampleRule(10, 10), SampleRule(15, 10), SampleRule(5, 5)


@pytest.mark.parametrize(
    ("sprinklers", "size"), [(250, 4), (400, 4), (401, 5), (1000, 10), (1001, 11), (3, 3)]
)
def test_the_sample_is_one_in_a_hundred_and_no_fewer_than_four(sprinklers, size):
    assert sample_size(sprinklers) == size


@given(st.integers(1, 100_000))
def test_the_sample_is_never_less_than_a_hundredth_nor_more_than_all(sprinklers):
    size = sample_size(sprinklers)
    assert sprinklers / 100 <= size <= sprinklers
    assert size >= min(4, sprinklers)


def test_an_area_without_sprinklers_has_no_sample():
    with pytest.raises(ValueError, match="below 1"):
        sample_size(0)


@pytest.mark.parametrize(
    ("rule", "installed", "due"),
    [(DRY_2017, 2010, 2020), (DRY_2020, 2010, 2025), (HARSH, 2020, 2025), (STANDARD, 1976, 2026)],
    ids=["dry, 2017 edition", "dry, 2020 edition", "harsh environment", "standard response"],
)
def test_the_first_sample_is_due_at_its_age(rule, installed, due):
    assert next_sample_test(rule, date(installed, 1, 1)) == date(due, 1, 1)


def test_standard_response_is_tested_at_50_60_70_75_and_every_five_years_on():
    installed = date(1950, 6, 1)
    tested, due = None, []
    for _ in range(7):
        tested = next_sample_test(STANDARD, installed, tested)
        due.append(tested.year - installed.year)
    assert due == [50, 60, 70, 75, 80, 85, 90]


def test_a_late_test_moves_the_next_but_not_the_turn_at_75():
    installed = date(1950, 6, 1)
    assert next_sample_test(STANDARD, installed, date(2003, 6, 1)) == date(2013, 6, 1)
    assert next_sample_test(STANDARD, installed, date(2017, 6, 1)) == date(2025, 6, 1)


def test_a_harsh_environment_brings_the_test_forward():
    installed = date(2020, 5, 1)
    assert earliest_sample_test([DRY_2020, HARSH], installed) == date(2025, 5, 1)


def test_a_test_before_the_sprinklers_were_fitted_belongs_to_older_ones():
    assert next_sample_test(DRY_2020, date(2020, 5, 1), date(2019, 5, 1)) == date(2035, 5, 1)


@pytest.mark.parametrize("years", [{"first_years": 0}, {"later_years": 5}])
def test_a_rule_that_says_nothing_sensible_is_refused(years):
    with pytest.raises(ValueError, match="years"):
        SampleRule(**({"first_years": 50, "then_years": 10} | years))
