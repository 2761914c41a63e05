import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion.timeline import Timeline, segment_bounds, time_order

rows = st.lists(st.tuples(st.integers(0, 4), st.floats(-100.0, 100.0)), max_size=20)


def timeline(pairs, systems=5):
    pairs = sorted(pairs)
    owner = np.array([owner for owner, _ in pairs], dtype=np.intp)
    return Timeline.of(owner, np.array([start for _, start in pairs]), systems)


@given(rows, st.lists(st.tuples(st.integers(0, 4), st.floats(-200.0, 200.0)), min_size=1))
def test_the_row_that_holds_is_the_last_begun_of_its_own_system(pairs, questions):
    line = timeline(pairs)
    system = np.array([system for system, _ in questions])
    time = np.array([at for _, at in questions])
    row, inside = line.locate(system, time)
    for i, (wanted, at) in enumerate(zip(system, time, strict=True)):
        begun = [
            r for r in range(line.owner.size) if line.owner[r] == wanted and line.start_yr[r] <= at
        ]
        assert inside[i] == bool(begun)
        if begun:
            assert line.start_yr[row[i]] == line.start_yr[begun[-1]]
            assert line.owner[row[i]] == wanted


@given(rows)
def test_asking_for_all_systems_at_once_gives_what_asking_one_by_one_gives(pairs):
    line = timeline(pairs)
    times = np.linspace(-120.0, 120.0, 35).reshape(7, 5)
    row, inside = line.locate(slice(None), times)
    for system in range(5):
        alone, found = line.locate(np.full(7, system), times[:, system])
        assert np.array_equal(inside[:, system], found)
        assert np.array_equal(row[:, system][found], alone[found])


def test_times_that_the_common_axis_cannot_tell_apart_are_told_apart():
    line = timeline([(4, 0.0), (4, 1e-97), (4, 2e-97), (4, 1.0)])
    row, inside = line.locate(np.array([4, 4, 4, 4]), np.array([0.0, 1e-97, 1.5e-97, 0.5]))
    assert inside.all()
    assert row.tolist() == [0, 1, 1, 2]


@given(rows)
def test_rows_are_put_in_order_exactly_and_those_at_once_stay(pairs):
    pairs = [*pairs, (1, 1e-97), (1, 0.0), (1, 0.0)]
    owner = np.array([owner for owner, _ in pairs], dtype=np.intp)
    start = np.array([start for _, start in pairs])
    wanted = sorted(range(len(pairs)), key=lambda at: pairs[at])
    assert time_order(owner, start).tolist() == wanted


def test_lengths_and_sums_stay_within_a_system():
    line = timeline([(0, 1.0), (0, 3.0), (2, 0.0), (2, 0.5), (2, 4.0)])
    assert line.lengths() == pytest.approx([2.0, 0.0, 0.5, 3.5, 0.0])
    assert line.sum_before(np.arange(1.0, 6.0)) == pytest.approx([0, 1, 0, 3, 7])


def test_segments_of_systems_without_rows_are_empty():
    first, count = segment_bounds(np.array([1, 1, 3]), 5)
    assert count.tolist() == [0, 2, 0, 1, 0]
    assert first[1] == 0 and first[3] == 2
