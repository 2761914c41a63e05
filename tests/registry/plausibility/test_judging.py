"""The table of what is asked about, case by case; the phone is tested on the same cases."""

import json
from pathlib import Path

import pytest

from registry.kinds import KINDS
from registry.plausibility import LIMITS, as_data, judge, sense_of
from registry.quantities import PSI

CASES = json.loads((Path(__file__).parent / "cases.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["says"])
def test_a_measurement_is_believed_or_asked_about(case):
    judged = judge(case["sense"], case["value"], case.get("known", {}))
    assert (judged.limit.code if judged else None) == case["code"]
    meant = [said.value for said in judged.suggestions] if judged else []
    assert meant == pytest.approx(case.get("meant", []), rel=1e-3)


def test_every_limit_has_a_case_that_meets_it():
    assert {limit.code for limit in LIMITS} == {case["code"] for case in CASES} - {None}


def test_only_more_than_all_of_the_gas_can_never_be_true():
    assert [limit.code for limit in LIMITS if not limit.can_be_true] == ["no_point"]


def test_every_limit_names_a_likely_cause():
    assert all(limit.causes for limit in LIMITS)


def test_the_table_for_the_phone_is_json_and_says_the_same():
    rows = json.loads(json.dumps(as_data(), allow_nan=False))
    assert [row["code"] for row in rows] == [limit.code for limit in LIMITS]
    shown = next(row for row in rows if row["code"] == "oxygen_shown")
    assert shown["below"] == 21.5
    assert shown["answers"][0] | {"words": ""} == {
        "words": "", "scale": -1.0, "shift": 100.0, "least": 78.0,
    }  # fmt: skip


def test_every_gas_pressure_temperature_and_wall_of_a_kind_is_held_against_the_table():
    left = {
        f"{code}.{field.name}"
        for code, kind in KINDS.items()
        for field in kind.fields
        if field.dimension in ("pressure", "temperature") and not sense_of(field)
    }
    assert left == {
        "inerting.filled.cylinder_before_gauge_pa",
        "inerting.filled.cylinder_after_gauge_pa",
    }
    assert sense_of(KINDS["reading.gas"].field("n2_percent")) == "nitrogen"
    assert sense_of(KINDS["event.drain_down"].field("regulator_gauge_pa")) == "regulator"


def test_a_pressure_is_not_asked_about_where_nothing_is_known_to_hold_it_against():
    assert judge("pressure", 300 * PSI, {}) is None
