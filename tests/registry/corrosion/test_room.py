import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import room

flows = st.floats(0.0, 1.0)


def test_air_that_holds_the_limit_settles_at_19_5_percent():
    nitrogen = 8.5 / 3600
    air = room.air_flow_to_stay_safe(nitrogen)
    assert room.steady_room_oxygen(air, nitrogen) == pytest.approx(0.195)


def test_nitrogen_to_deficient_brings_a_closed_room_to_19_5_percent():
    assert room.nitrogen_to_deficient(30.0) == pytest.approx(0.0717 * 30.0, abs=0.003)
    released = room.nitrogen_to_deficient(30.0)
    assert room.room_oxygen_after_release(30.0, released) == pytest.approx(0.195)


def test_a_room_where_nothing_flows_keeps_its_air():
    assert room.steady_room_oxygen(0.0, 0.0) == pytest.approx(0.2095)
    assert room.room_oxygen(30.0, 0.0, 3600.0) == pytest.approx(0.2095)


@given(st.floats(1.0, 1e4), flows, flows, st.floats(0.0, 1e5))
def test_oxygen_stays_between_none_and_air(volume, nitrogen, air, time):
    oxygen = room.room_oxygen(volume, nitrogen, time, air_flow=air)
    assert -1e-12 <= oxygen <= 0.2095 + 1e-12


@given(st.floats(1.0, 1e4), flows, st.floats(0.0, 1e5))
def test_ventilation_never_makes_it_worse(volume, nitrogen, time):
    air = np.linspace(0.0, 2.0, 5)
    oxygen = room.room_oxygen(volume, nitrogen, time, air_flow=air)
    assert np.all(np.diff(oxygen) >= -1e-12)


def test_venting_a_fill_into_a_small_closed_room_is_flagged_and_a_large_room_is_not():
    small = room.check_room(volume=30.0, nitrogen=4.0, nitrogen_flow=0.01)
    large = room.check_room(volume=3000.0, nitrogen=4.0, nitrogen_flow=0.01)
    assert small.is_deficient and small.lowest_oxygen < 0.195
    assert not large.is_deficient
    assert small.air_flow_to_stay_safe_m3_s == pytest.approx(0.134, abs=0.001)


def test_deficiency_is_judged_elementwise():
    assert room.is_oxygen_deficient(np.array([0.194, 0.195, 0.2095])).tolist() == [
        True,
        False,
        False,
    ]


def test_a_room_without_volume_is_refused():
    with pytest.raises(ValueError, match="volume is 0.0; it must be greater than zero"):
        room.room_oxygen(0.0, 1.0, 1.0)
