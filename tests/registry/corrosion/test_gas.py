import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import gas

PSI = 6894.757293168
AIR = 0.2095
fractions = st.floats(0.0, 1.0)
ratios = st.floats(0.05, 0.95)


def thirty_psig(altitude=0.0):
    atmosphere = gas.site_atmosphere(altitude)
    return atmosphere / gas.absolute_pressure(30 * PSI, atmosphere)


@pytest.mark.parametrize("feed_n2", [98.0, 99.0, 99.9, 100.0])
def test_first_30_psig_fill_of_an_air_filled_pipe_reads_91_to_94_percent(feed_n2):
    """Common practice, no source: the first fill usually reads 91 to 94 %."""
    feed = gas.oxygen_from_n2_percent(feed_n2)
    reading = gas.n2_percent(gas.purged_fraction(AIR, feed, thirty_psig()))
    assert 91.0 <= reading <= 94.0


def test_mixed_pipe_with_pure_feed_falls_just_short_at_two_fills_and_passes_at_three():
    """Common practice, no source: 98 % takes two or three fills. Full mixing gives 97.7 at two."""
    after = gas.n2_percent(gas.purged_fraction(AIR, 0.0, thirty_psig(), cycles=np.array([2, 3])))
    assert after == pytest.approx([97.735, 99.255], abs=0.005)
    assert gas.whole_cycles_needed(AIR, 0.0, 0.02, thirty_psig()) == 3


@pytest.mark.parametrize(
    ("psig", "feed_n2", "expected"),
    [
        (15, 100.0, [10.368, 5.131, 2.539, 1.257]),
        (20, 99.0, [9.450, 4.579, 2.516, 1.642]),
        (30, 99.9, [6.955, 2.354, 0.841]),
        (30, 98.0, [8.231, 4.049, 2.674, 2.221]),
        (60, 100.0, [4.122, 0.811, 0.160, 0.031]),
    ],
)
def test_purge_table_is_unchanged(psig, feed_n2, expected):
    ratio = 14.696 / (14.696 + psig)
    cycles = np.arange(1, len(expected) + 1)
    oxygen = gas.purged_fraction(AIR, 1 - feed_n2 / 100, ratio, cycles=cycles)
    assert 100 * oxygen == pytest.approx(expected, abs=0.0015)


def test_feed_as_poor_as_the_target_is_refused_and_named():
    assert gas.cycles_needed(AIR, 0.02, 0.02, 0.33) == math.inf
    with pytest.raises(gas.TargetUnreachable, match=r"98\.00 % nitrogen"):
        gas.whole_cycles_needed(AIR, 0.02, 0.02, 0.33)


def test_a_thin_atmosphere_makes_a_fill_work_better():
    assert thirty_psig(1609.0) < thirty_psig(0.0)


def test_clean_air_reads_79_05_on_a_meter():
    assert gas.n2_percent(AIR) == pytest.approx(79.05)
    assert gas.oxygen_from_n2_percent(79.05) == pytest.approx(AIR)


@given(start=fractions, feed=fractions, ratio=ratios, cycles=st.floats(0.0, 30.0))
def test_purging_ends_between_the_start_and_the_feed(start, feed, ratio, cycles):
    after = gas.purged_fraction(start, feed, ratio, cycles=cycles)
    assert min(start, feed) - 1e-12 <= after <= max(start, feed) + 1e-12


@given(start=fractions, feed=fractions, ratio=ratios)
def test_one_mixed_fill_conserves_oxygen(start, feed, ratio):
    """Per unit of high-pressure gas: what was there plus what was fed is what is there."""
    after = gas.purged_fraction(start, feed, ratio)
    assert after == pytest.approx(ratio * start + (1 - ratio) * feed, abs=1e-12)


@given(
    start=st.floats(0.05, 1.0),
    share=st.floats(0.01, 0.99),
    feed=st.floats(0.0, 0.04),
    ratio=ratios,
    mixing=st.floats(0.3, 1.5),
)
def test_cycles_needed_undoes_purging(start, share, feed, ratio, mixing):
    target = feed + share * (start - feed)
    cycles = gas.cycles_needed(start, feed, target, ratio, mixing=mixing)
    after = gas.purged_fraction(start, feed, ratio, cycles=cycles, mixing=mixing)
    assert after == pytest.approx(target, abs=1e-9)


@given(
    start=st.floats(0.05, 0.21),
    feed=st.floats(0.0, 0.04),
    ratio=st.floats(0.15, 0.6),
    mixing=st.floats(0.3, 1.5),
)
def test_fitted_mixing_index_recovers_the_index_that_made_the_reading(start, feed, ratio, mixing):
    after = gas.purged_fraction(start, feed, ratio, mixing=mixing)
    assert gas.fitted_mixing_index(start, after, feed, ratio) == pytest.approx(mixing, rel=1e-6)


def test_fitted_mixing_index_is_nan_when_a_reading_beats_the_feed():
    assert math.isnan(gas.fitted_mixing_index(AIR, 0.005, 0.01, 0.33))


def test_more_cycles_higher_pressure_and_purer_feed_each_leave_less_oxygen():
    assert np.all(np.diff(gas.purged_fraction(AIR, 0.0, 0.33, cycles=np.arange(6))) < 0)
    assert np.all(np.diff(gas.purged_fraction(AIR, 0.0, np.linspace(0.1, 0.9, 9))) > 0)
    assert np.all(np.diff(gas.purged_fraction(AIR, np.linspace(0, 0.2, 9), 0.33)) > 0)


@given(st.lists(fractions, min_size=1, max_size=6), ratios)
def test_an_array_gives_what_its_scalars_give(starts, ratio):
    together = gas.purged_fraction(np.array(starts), 0.01, ratio)
    alone = [gas.purged_fraction(start, 0.01, ratio) for start in starts]
    assert all(type(value) is float for value in alone)
    assert np.array_equal(together, alone)


@given(start=fractions, makeup=fractions, turnover=st.floats(0, 5), time=st.floats(0, 100))
def test_drift_never_overshoots_the_makeup_gas(start, makeup, turnover, time):
    after = gas.drifted_fraction(start, makeup, turnover, time)
    assert min(start, makeup) - 1e-12 <= after <= max(start, makeup) + 1e-12


def test_a_month_on_an_air_compressor_undoes_the_inerting():
    turnover = gas.turnover_rate(1 * PSI, 44.696 * PSI)
    assert gas.drifted_fraction(0.02, AIR, turnover, 30.0) > 0.11
    days = gas.time_to_threshold(0.02, AIR, 0.05, turnover)
    assert gas.drifted_fraction(0.02, AIR, turnover, days) == pytest.approx(0.05)


def test_time_to_threshold_is_zero_when_passed_and_infinite_when_never_reached():
    assert gas.time_to_threshold(0.06, AIR, 0.05, 0.1) == 0.0
    assert gas.time_to_threshold(0.02, 0.01, 0.05, 0.1) == math.inf
    assert gas.time_to_threshold(0.02, 0.04, 0.05, 0.1) == math.inf
    assert gas.time_to_threshold(0.02, AIR, 0.05, 0.0) == math.inf
    assert gas.time_to_threshold(0.05, AIR, 0.05, 0.1) == 0.0
    assert gas.time_to_threshold(0.02, 0.02, 0.05, 0.1) == math.inf


def test_a_cold_night_is_told_from_a_leak():
    """Own arithmetic: a 3 psi change at 40 psig needs 16.1 K."""
    reading = gas.pressure_at_temperature(54.696 * PSI, 293.15, 293.15 - 16.1) / PSI - 14.696
    assert 40.0 - reading == pytest.approx(3.0, abs=0.01)


def test_a_breach_of_the_whole_volume_leaves_air():
    assert gas.mixed_fraction(0.01, 1.0) == pytest.approx(AIR)
    assert gas.mixed_fraction(0.01, 0.0) == pytest.approx(0.01)
    assert gas.mixed_fraction(0.01, 0.25) == pytest.approx(0.75 * 0.01 + 0.25 * AIR)


def test_recovery_under_a_generator_takes_the_time_that_brings_the_target():
    turnover = gas.generator_turnover(5e-4, 2.0, 3.0 * 101325.0)
    seconds = gas.recovery_time(AIR, 0.005, 0.02, turnover)
    assert 3600 < seconds < 14 * 86400
    assert gas.drifted_fraction(AIR, 0.005, turnover, seconds) == pytest.approx(0.02)
    assert gas.recovery_time(0.01, 0.005, 0.02, 0.0) == 0.0
    assert gas.recovery_time(AIR, 0.03, 0.02, turnover) == math.inf
    assert gas.recovery_time(AIR, 0.005, 0.02, 0.0) == math.inf


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: gas.site_atmosphere(20000.0), "altitude"),
        (lambda: gas.absolute_pressure(-2e5), "gauge"),
        (lambda: gas.purged_fraction(1.2, 0.0, 0.3), "start"),
        (lambda: gas.purged_fraction(0.2, -0.1, 0.3), "feed"),
        (lambda: gas.purged_fraction(0.2, 0.0, 1.0), "pressure_ratio"),
        (lambda: gas.purged_fraction(0.2, 0.0, 0.3, mixing=0.0), "mixing"),
        (lambda: gas.standard_volume(1.0, 2e5, 1e5), "high"),
        (lambda: gas.oxygen_from_n2_percent(101.0), "n2_percent"),
        (lambda: gas.turnover_rate(-1.0, 1e5), "pressure_loss_rate"),
        (lambda: gas.gas_moles(1.0, 1e5, 0.0), "temperature"),
    ],
)
def test_impossible_input_is_refused_by_name(call, name):
    with pytest.raises(ValueError, match=f"{name} is .*must be"):
        call()


def test_nan_in_gives_nan_out():
    assert math.isnan(gas.purged_fraction(math.nan, 0.0, 0.3))
    assert math.isnan(gas.cycles_needed(math.nan, 0.0, 0.02, 0.3))
    assert math.isnan(gas.site_atmosphere(math.nan))
