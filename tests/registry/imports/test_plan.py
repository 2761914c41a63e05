from datetime import date

import pytest

from registry.imports.answers import Answers
from registry.imports.check import GivenRun, ParsedRow
from registry.imports.plan import SystemClaims, plan_system

PSI = 6894.757293168361


def row(number=2, *, kind="wet", supply="unknown", rated=None, design=None, **run) -> ParsedRow:
    facts = {
        "role": "riser", "material": "black_steel", "schedule": "40", "nominal_size": "4",
        "wall_mm": 6.02, "wall_basis": "table", "outside_diameter_mm": 114.3, "length_m": 10.0,
        "joint": "unknown", "installed_on": date(2001, 1, 1), "installed_precision": "year",
    }  # fmt: skip
    return ParsedRow(
        number, "Pier", "", "P-1", kind, "light", supply, rated, design, GivenRun(**facts | run), ""
    )


def plan(*rows: ParsedRow, **choices: str):
    claims = SystemClaims("Pier", "P-1", rows[0].number)
    for one in rows:
        claims.add(one)
    return plan_system(claims, Answers(choices=choices))


@pytest.mark.parametrize(
    ("kind", "said", "supply", "asked"),
    [
        ("wet", ["cylinders", "unknown"], "cylinders", False),
        ("wet", ["no_nitrogen", "unknown"], "none", False),
        ("wet", ["no_nitrogen", "cylinders"], "unknown", True),
        ("wet", ["some_nitrogen"], "unknown", True),
        ("wet", ["some_nitrogen", "generator"], "unknown", True),
        ("wet", ["unknown"], "unknown", False),
        # Without nitrogen a dry system may have a compressor or nothing: the file does not say.
        ("dry", ["no_nitrogen"], "unknown", True),
        ("dry", ["compressor"], "compressor", False),
        ("preaction", ["generator", "generator"], "generator", False),
    ],
)
def test_the_gas_supply_is_taken_when_the_rows_are_of_one_mind_and_else_asked(
    kind, said, supply, asked
):
    made = plan(*(row(n, kind=kind, supply=word) for n, word in enumerate(said, 2)))
    assert made.facts["gas_supply"] == supply
    assert bool(made.questions) is asked
    assert made.conflicts == []


def test_an_answer_settles_the_gas_supply():
    key = "gas_supply:Pier:P-1"
    assert (
        plan(row(supply="some_nitrogen"), **{key: "cylinders"}).facts["gas_supply"] == "cylinders"
    )
    assert plan(row(supply="some_nitrogen"), **{key: "magic"}).facts["gas_supply"] == "unknown"


def test_one_rating_in_two_units_is_no_difference():
    made = plan(row(2, rated=175 * PSI), row(3, rated=12.1e5))
    assert made.facts["rated_pressure_gauge_pa"] == pytest.approx(175 * PSI)
    assert made.notices == []


def test_the_weakest_component_sets_the_rating_and_the_difference_is_told():
    made = plan(row(2, rated=300 * PSI), row(3, rated=175 * PSI))
    assert made.facts["rated_pressure_gauge_pa"] == pytest.approx(175 * PSI)
    assert "lowest was taken" in made.notices[0]


def test_design_pressures_that_differ_are_not_recorded():
    assert "design_pressure_gauge_pa" not in plan(row(2, design=5e5), row(3, design=7e5)).facts


def test_two_kinds_in_one_system_are_a_conflict_that_names_the_rows():
    made = plan(row(2), row(3, kind="dry"), row(4, kind="dry"))
    assert made.conflicts[0].wrong == (
        "the rows of P-1 disagree: Wet pipe (row 2); Dry pipe (rows 3, 4)"
    )


def test_a_system_is_as_old_as_its_oldest_pipe():
    made = plan(row(2, installed_on=date(2003, 1, 1)), row(3, installed_on=date(2002, 5, 1),
                installed_precision="day"))  # fmt: skip
    assert made.facts["installed_on"] == date(2002, 5, 1)
    assert made.facts["installed_precision"] == "day"
