"""Shapley shares, and the bridge between two assessments."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion.assess import assess_one
from registry.corrosion.bridge import bridge
from registry.corrosion.inputs import Leak, WallReading
from registry.corrosion.shapley import rounded_to_sum, shapley_values
from tests.effort import many
from tests.registry.corrosion.builders import air_fills, run, wet
from tests.registry.corrosion.strategies import systems

values = st.lists(st.floats(-50.0, 50.0), min_size=16, max_size=16).map(np.array)


@given(values)
def test_shares_add_up_to_what_lies_between_the_two_states(value):
    assert shapley_values(value).sum() == pytest.approx(value[-1] - value[0], abs=1e-9)


@given(values)
def test_a_driver_that_never_adds_anything_gets_nothing(value):
    value[8:] = value[:8]
    assert shapley_values(value)[3] == pytest.approx(0.0, abs=1e-12)


def test_three_drivers_by_hand():
    """The glove game: one left and two right hands; a pair is worth one. 2/3, 1/6, 1/6."""
    value = np.array([0, 0, 0, 1, 0, 1, 0, 1], dtype=float)
    assert shapley_values(value) == pytest.approx([2 / 3, 1 / 6, 1 / 6])


@given(st.lists(st.floats(-30.0, 30.0), min_size=1, max_size=8))
def test_rounded_parts_add_up_to_the_total_shown(parts):
    total = float(sum(parts))
    assert sum(rounded_to_sum(np.array(parts), total)) == pytest.approx(round(total, 1), abs=1e-6)


def test_values_of_odd_number_are_refused():
    with pytest.raises(ValueError, match="power of two"):
        shapley_values(np.zeros(3))


def test_the_bridge_names_what_changed_and_sums_exactly():
    before = wet(now_yr=10.0, spans=air_fills(8.0, 9.0), book_began_yr=8.0)
    after = replace(
        before, now_yr=12.0, spans=air_fills(8.0, 9.0, 11.0), leaks=(Leak(11.5),),
        walls=(WallReading(1, 11.8, 2.4e-3),), consequence_class=4,
    )  # fmt: skip
    steps = {step.code: step.points for step in bridge(before, after)}
    assert set(steps) == {"time", "events", "evidence", "watched", "register"}
    change = (
        assess_one(after, precision=np.float64).score
        - assess_one(before, precision=np.float64).score
    )
    assert sum(steps.values()) == pytest.approx(change[0], abs=1e-9)
    assert steps["evidence"] > 0 > steps["watched"]


@settings(max_examples=many(15), deadline=None)
@given(systems, systems)
def test_the_bridge_sums_for_any_two_systems(before, after):
    change = [float(assess_one(one, precision=np.float64).score[0]) for one in (before, after)]
    steps = bridge(before, after)
    assert sum(step.points for step in steps) == pytest.approx(change[1] - change[0], abs=1e-7)


def test_no_change_needs_no_bridge():
    system = wet(now_yr=10.0)
    assert bridge(system, system) == ()


def test_evidence_moves_with_the_runs_it_names():
    before = wet(now_yr=10.0)
    after = replace(before, runs=(*before.runs, run("8")), walls=(WallReading(5, 9.0, 3.0e-3),))
    assert {step.code for step in bridge(before, after)} == {"register"}
