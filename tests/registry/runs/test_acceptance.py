"""When readings end the fills: the table of cases, which the program of the page can judge too."""

import json
from pathlib import Path

import pytest

from registry.quantities import PSI
from registry.runs.acceptance import Demands, Hold, PointReading, decide

CASES = json.loads((Path(__file__).parent / "acceptance_cases.json").read_text(encoding="utf-8"))
ATMOSPHERE_PA = 101_325.0


def decided(case):
    return decide(
        Demands(**case["demands"]),
        [PointReading(**reading) for reading in case["readings"]],
        Hold(**case["hold"]) if case["hold"] else None,
        atmosphere_pa=ATMOSPHERE_PA,
    )


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_each_case_lacks_what_the_table_says(case):
    decision = decided(case)
    assert [lack.code for lack in decision.lacks] == case["lacks"]
    assert decision.is_accepted == (not case["lacks"])


def test_every_reason_appears_in_the_table():
    told = {code for case in CASES for code in case["lacks"]}
    assert told == {
        "no_reading", "below_target", "too_early", "point_not_named", "more_points", "no_hold",
        "hold_too_short", "hold_fell",
    }  # fmt: skip


def test_the_worst_point_is_the_reading_that_is_accepted():
    case = next(case for case in CASES if case["name"] == "two points at target")
    assert decided(case).n2_percent == 98.1


def test_one_kelvin_at_30_psig_is_worth_0_15_psi():
    """Ideal gas by hand: (30 + 14.696) psi / 293.15 K = 0.152 psi per K."""
    hold = Hold(30 * PSI, 30 * PSI - 0.1525 * PSI, 900, 293.15, 292.15)
    assert hold.fall_pa(ATMOSPHERE_PA) / PSI == pytest.approx(0.0, abs=0.002)


def test_the_policy_for_the_page_is_plain_data():
    data = json.loads(json.dumps(Demands(98.0, wait_s=600, points=2).as_data()))
    assert Demands(**data) == Demands(98.0, wait_s=600, points=2)
