import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.corrosion import exposure
from registry.corrosion.timeline import Stretches, Timeline
from tests.effort import many

fraction = st.floats(0.0, 1.0)
rate = st.floats(0.0, 50.0)
years = st.floats(0.0, 30.0)


def ledger(start, oxygen, makeup, turnover, consumption):
    owner = np.zeros(len(start), dtype=np.intp)
    return exposure.build_exposure(
        timeline=Timeline.of(owner, np.array(start, dtype=float), 1),
        oxygen=np.array(oxygen, dtype=float),
        makeup_oxygen=np.array(makeup, dtype=float),
        turnover_per_yr=np.array(turnover, dtype=float),
        consumption_per_yr=np.array([consumption], dtype=float),
    )


def at(book, *times):
    return book.at(np.zeros(len(times), dtype=np.intp), np.array(times, dtype=float))


@given(fraction, fraction, rate, rate, years)
def test_oxygen_balance_of_a_span_closes(oxygen, makeup, turnover, consumption, length):
    columns = [np.array([v]) for v in (oxygen, makeup, turnover, consumption, length)]
    b = exposure.span_balance(*columns)
    came, went = b.held + b.made_up, b.consumed + b.leaked + b.left
    assert np.abs(came - went) == pytest.approx(0.0, abs=1e-9 * max(1.0, float(came[0])))


def test_integral_agrees_with_a_numerical_solution(solve_ivp):
    """scipy solves dy/dt = L (y_s - y) - k y over three spans, the integral of y beside it."""
    starts, oxygen, makeup = [2.0, 5.0, 9.0], [0.2095, 0.02, 0.15], [0.01, 0.005, 0.2095]
    turnover, consumption = [3.0, 0.5, 8.0], 1.7
    book = ledger(starts, oxygen, makeup, turnover, consumption)
    total = 0.0
    for i, begin in enumerate(starts):
        end = (starts[1:] + [14.0])[i]

        def slope(_, state, i=i):
            return [turnover[i] * (makeup[i] - state[0]) - consumption * state[0], state[0]]

        done = solve_ivp(slope, (begin, end), [oxygen[i], 0.0], rtol=1e-10, atol=1e-12)
        total += done.y[1, -1]
        assert at(book, end)[0] == pytest.approx(total, rel=1e-7)


@settings(max_examples=many(60))
@given(
    st.lists(st.tuples(st.floats(0, 40), fraction, fraction, rate), min_size=1, max_size=6),
    rate,
    st.lists(st.floats(0, 60), min_size=2, max_size=8),
)
def test_exposure_only_grows_and_is_finite(spans, consumption, times):
    spans = sorted(spans)
    book = ledger(*(list(column) for column in zip(*spans, strict=True)), consumption)
    grown = at(book, *sorted(times))
    assert np.all(np.isfinite(grown)) and np.all(np.diff(grown) >= -1e-9)


def test_a_wet_fill_is_worth_its_oxygen_over_the_rate_it_is_spent_at():
    book = ledger([1.0], [0.2095], [0.0], [0.0], 12.0)
    assert at(book, 0.5, 1.0, 50.0) == pytest.approx([0.0, 0.0, 0.2095 / 12.0])


def test_a_refill_drives_out_what_the_last_one_left():
    early = ledger([1.0, 1.01], [0.2, 0.02], [0.0, 0.0], [0.0, 0.0], 12.0)
    late = ledger([1.0, 2.00], [0.2, 0.02], [0.0, 0.0], [0.0, 0.0], 12.0)
    assert at(early, 10.0)[0] < 0.3 * at(late, 10.0)[0]


def test_a_tight_dry_system_starves_itself_and_a_leaky_one_does_not():
    tight = ledger([0.0], [0.2095], [0.2095], [0.1], 5.0)
    leaky = ledger([0.0], [0.2095], [0.2095], [500.0], 5.0)
    assert at(tight, 10.0)[0] < 0.05 * at(leaky, 10.0)[0]
    assert at(leaky, 10.0)[0] == pytest.approx(0.2095 * 10 * 500 / 505, rel=0.01)


def test_a_closed_pipe_that_consumes_nothing_keeps_its_gas():
    book = ledger([0.0], [0.1], [0.0], [0.0], 0.0)
    assert at(book, 7.0)[0] == pytest.approx(0.7)


def test_systems_do_not_leak_into_each_other():
    """Three systems, the middle one without spans."""
    book = exposure.build_exposure(
        timeline=Timeline.of(np.array([0, 2, 2]), np.array([1.0, 2.0, 3.0]), 3),
        oxygen=np.array([0.2, 0.1, 0.05]),
        makeup_oxygen=np.zeros(3),
        turnover_per_yr=np.zeros(3),
        consumption_per_yr=np.full(3, 12.0),
    )
    end = book.at(np.arange(3), np.full(3, 20.0))
    assert end == pytest.approx([0.2 / 12, 0.0, 0.15 / 12], rel=1e-4)
    assert np.isnan(book.oxygen_at(np.array([1]), np.array([5.0])))[0]
    assert book.oxygen_at(np.array([2]), np.array([2.0]))[0] == pytest.approx(0.1)


def test_dissolved_oxygen_comes_in_steps():
    doses = exposure.build_water(
        timeline=Timeline.of(np.zeros(2, dtype=np.intp), np.array([3.0, 6.0]), 1),
        amount=np.array([9e-3, 1e-3]),
        silent=Stretches(
            unknown_from_yr=np.zeros(1),
            known_from_yr=np.full(1, 3.0),
            unknown_rate=np.full(1, 1e-3),
            now_yr=np.full(1, 10.0),
            future_rate=np.full(1, 2e-3),
        ),
    )
    got = doses.at(np.zeros(4, dtype=np.intp), np.array([2.0, 4.0, 7.0, 11.0]))
    assert got == pytest.approx([2e-3, 12e-3, 13e-3, 15e-3])


def test_expected_fills_lean_on_the_record_as_it_grows():
    assert exposure.expected_fills_per_year(0, 0.0) == 1.0
    assert exposure.expected_fills_per_year(0, 18.0) == pytest.approx(0.1)
    assert exposure.expected_fills_per_year(40, 18.0) == pytest.approx(2.1)
