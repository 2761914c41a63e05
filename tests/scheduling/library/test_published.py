"""The library's rows against the published intervals, one row each in
fixtures/published_intervals.csv with its source and how it is known."""

import csv
from datetime import date, timedelta
from pathlib import Path

import pytest

from scheduling.library import editions, items, items_for, sample_test_due, sprinkler_test
from scheduling.library.criteria import (
    LEAK_TESTS,
    PSI,
    judge_gauge,
    judge_leak_test,
    judge_main_drain,
)
from scheduling.recurrence import SampleRule

FIXTURE = Path(__file__).parents[3] / "fixtures" / "published_intervals.csv"
GAS_LEAKAGE, ACCEPTANCE = LEAK_TESTS["gas-leakage"], LEAK_TESTS["acceptance"]


def rows():
    with FIXTURE.open(encoding="utf-8", newline="") as lines:
        return [pytest.param(row, id=row["id"]) for row in csv.DictReader(lines)]


def answers(row):
    yes = dict.fromkeys(row["yes"].split(), True)
    return yes | dict.fromkeys(row["no"].split(), False)


@pytest.mark.parametrize("row", rows())
def test_the_library_asks_for(row):
    chosen = items_for(row["system_kind"], editions()[row["edition"]], answers(row))
    (choice,) = [choice for choice in chosen if choice.item.key == row["item"]]
    interval = choice.item.interval
    assert (interval.text if interval else choice.item.trigger) == row["expected"]
    assert choice.presumed == ""


def test_every_published_row_says_where_it_comes_from_and_how_it_is_known():
    for param in rows():
        row = param.values[0]
        assert row["source"] and row["how_known"], row["id"]


def test_every_item_of_a_standard_is_held_against_a_published_interval():
    checked = {param.values[0]["item"] for param in rows()}
    of_standards = {item.key for item in items() if item.standard and item.standard != "EN 12845"}
    assert of_standards <= checked


STANDARD = SampleRule(50, 10, later_from_years=75, later_years=5)


@pytest.mark.parametrize(
    ("key", "edition", "rule"),
    [
        ("standard_response", "nfpa25-2017", STANDARD),
        ("standard_response", "nfpa25-2020", STANDARD),
        ("fast_response", "nfpa25-2020", SampleRule(20, 10)),
        ("fast_response", "nfpa25-2023", SampleRule(25, 10)),
        ("dry", "nfpa25-2017", SampleRule(10, 10)),
        ("dry", "nfpa25-2020", SampleRule(15, 10)),
        ("extra_high_temperature", "nfpa25-2020", SampleRule(5, 5)),
        ("harsh", "nfpa25-2020", SampleRule(5, 5)),
        ("harsh_resistant", "nfpa25-2020", SampleRule(10, 10)),
    ],
)
def test_sample_tests_are_those_of_the_edition(key, edition, rule):
    """NFPA 25 sample tests, read second hand; 25 years for fast response is from memory."""
    assert sprinkler_test(key, editions()[edition]).rule == rule


@pytest.mark.parametrize(
    ("sprinkler_type", "environment", "edition", "installed", "due"),
    [
        ("dry", "", "nfpa25-2017", 2010, 2020),
        ("dry", "", "nfpa25-2020", 2010, 2025),
        ("dry", "harsh", "nfpa25-2020", 2020, 2025),
        ("fast_response", "harsh_resistant", "nfpa25-2020", 2020, 2030),
        ("fast_response", "", "title19-2013", 2000, 2020),
    ],
)
def test_a_sample_is_due_by_type_environment_and_edition(
    sprinkler_type, environment, edition, installed, due
):
    assert sample_test_due(
        sprinkler_type=sprinkler_type,
        environment=environment,
        edition=editions()[edition],
        installed_on=date(installed, 1, 1),
    ) == date(due, 1, 1)


def test_a_standard_without_sample_tests_names_no_day():
    edition = editions()["en12845-2015"]
    assert (
        sample_test_due(sprinkler_type="dry", edition=edition, installed_on=date(2010, 1, 1))
        is None
    )


@pytest.mark.parametrize(
    ("test", "lost_psi", "hours", "is_met"),
    [
        (GAS_LEAKAGE, 3.0, 2, True),
        (GAS_LEAKAGE, 3.1, 2, False),
        (ACCEPTANCE, 1.5, 24, True),
        (ACCEPTANCE, 1.6, 24, False),
        (GAS_LEAKAGE, 0.5, 1, None),
    ],
)
def test_a_leak_test_passes_up_to_its_limit(test, lost_psi, hours, is_met):
    """3 psi in 2 h: NFPA 25 (2014); 1.5 psi in 24 h: NFPA 13, in an adopted code."""
    verdict = judge_leak_test(
        test,
        start_gauge_pa=40 * PSI,
        end_gauge_pa=(40 - lost_psi) * PSI,
        duration=timedelta(hours=hours),
    )
    assert verdict.is_met is is_met


def test_a_leak_test_from_a_lower_pressure_is_not_that_test():
    verdict = judge_leak_test(
        GAS_LEAKAGE,
        start_gauge_pa=30 * PSI,
        end_gauge_pa=30 * PSI,
        duration=timedelta(hours=2),
    )
    assert verdict.is_met is None
    assert "40 psi" in verdict.text


@pytest.mark.parametrize(
    ("now_psi", "is_met", "text"),
    [
        (55, True, "8% below"),
        (54, False, "10% below"),
        (40, False, "investigate"),
        (65, True, "0%"),
    ],
)
def test_a_main_drain_that_fell_a_tenth_is_investigated(now_psi, is_met, text):
    verdict = judge_main_drain(now_gauge_pa=now_psi * PSI, reference_gauge_pa=60 * PSI)
    assert (verdict.is_met, text in verdict.text) == (is_met, True)


@pytest.mark.parametrize(("read_psi", "is_met"), [(103, True), (94, True), (93.9, False)])
def test_a_gauge_is_right_within_three_percent_of_its_full_scale(read_psi, is_met):
    verdict = judge_gauge(read_pa=read_psi * PSI, true_pa=100 * PSI, full_scale_pa=200 * PSI)
    assert verdict.is_met is is_met


def test_verdicts_refuse_a_reference_of_nothing():
    with pytest.raises(ValueError, match="reference_gauge_pa"):
        judge_main_drain(now_gauge_pa=1.0, reference_gauge_pa=0.0)
    with pytest.raises(ValueError, match="full_scale_pa"):
        judge_gauge(read_pa=1.0, true_pa=1.0, full_scale_pa=0.0)
