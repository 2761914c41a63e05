import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion.timeline import Timeline, segment_bounds

rows = st.lists(st.tuples(st.integers(0, 4), st.floats(-100.0, 100.0)), max_size=20)


def timeline(pairs, systems=5):
    pairs = sorted(pairs)
    owner = np.array([owner for owner, _ in pairs], dtype=np.intp)
    return Timeline.of(owner, np.array([start for _, start in pairs]), systems)


@given(rows, st.lists(st.tuples(st.integers(0, 4), st.floats(-200.0, 200.0)), min_size=1))
def test_the_row_that_holds_is_the_last_begun_of_its_own_system(pairs, questions):
    """To the second: the common axis resolves a millionth of a year."""
    line = timeline([(owner, round(start, 3)) for owner, start in pairs])
    system = np.array([system for system, _ in questions])
    time = np.array([round(at, 3) + 5e-4 for _, at in questions])
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


def test_lengths_and_sums_stay_within_a_system():
    line = timeline([(0, 1.0), (0, 3.0), (2, 0.0), (2, 0.5), (2, 4.0)])
    assert line.lengths() == pytest.approx([2.0, 0.0, 0.5, 3.5, 0.0])
    assert line.sum_before(np.arange(1.0, 6.0)) == pytest.approx([0, 1, 0, 3, 7])


def test_segments_of_systems_without_rows_are_empty():
    first, count = segment_bounds(np.array([1, 1, 3]), 5)
    assert count.tolist() == [0, 2, 0, 1, 0]
    assert first[1] == 0 and first[3] == 2
