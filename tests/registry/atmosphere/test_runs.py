import pytest

from registry.atmosphere import LedgerItem
from registry.corrosion.gas import purged_fraction
from tests.registry.atmosphere.ledgers import (
    AIR,
    CYLINDERS,
    GENERATOR,
    PSI,
    WET,
    accepted,
    at_end,
    day,
    drain_down,
    head_break,
    item,
    reading,
    started,
    story,
)
from tests.restoration import RESTORED

SEA_LEVEL = 14.696
THIRTY_PSIG = SEA_LEVEL / (SEA_LEVEL + 30)


def filled(at, psi=30.0):
    return item("inerting.filled", at, fill=1, pressure_gauge_pa=psi * PSI)


def purged(at, psi=0.0):
    return item("inerting.purged", at, fill=1, pressure_gauge_pa=psi * PSI)


def read(at, n2, number=0):
    return item("inerting.read", at, number, fill=1, n2_percent=n2)


def stopped(at, number=0):
    return item("inerting.stopped", at, number, reason="Cylinders empty", left_as="Drained")


WHOLE_RUN = (
    started(1.0),
    filled(1.1),
    read(1.2, 93.1),
    purged(1.3),
    filled(1.4),
    read(1.5, 98.4),
    accepted(1.6, 98.4),
    item("inerting.final_purge", 1.7, pressure_gauge_pa=0.0),
    item("inerting.water_filled", 1.8),
    item("inerting.returned", 1.9, **RESTORED),
)


def test_a_whole_run_makes_wet_pipe_inert_at_its_acceptance_and_not_before():
    assert story(WET, *WHOLE_RUN, until=2) == [(0, "aerated"), (1.6, "inert")]


def test_the_estimate_after_acceptance_is_the_accepted_reading():
    span = at_end(WET, *WHOLE_RUN)
    assert (span.reason_code, span.oxygen_mid) == ("run.accepted", pytest.approx(0.016))


def test_no_part_of_a_run_without_its_acceptance_makes_anything_inert():
    steps = [step for step in WHOLE_RUN if step.kind != "inerting.accepted"]
    for end in range(1, len(steps) + 1):
        assert at_end(WET, *steps[:end]).state == "aerated"


def test_wet_pipe_is_drained_for_a_run_so_a_run_aerates_it():
    span = at_end(WET, accepted(1), started(2, n2=79.05))
    assert (span.state, span.reason_code) == ("aerated", "run.under_way")
    assert span.oxygen == type(span.oxygen).exactly(AIR)


def test_a_run_keeps_the_cause_that_called_for_it():
    span = at_end(WET, accepted(1), head_break(2, 7), started(3))
    assert (span.reason_code, span.cause_id) == ("head_break", 7)


@pytest.mark.parametrize(("fills", "expected_percent"), [(1, 6.888), (2, 2.265), (3, 0.745)])
def test_fills_without_a_reading_follow_the_purge_formula(fills, expected_percent):
    """30 psig fills of pure nitrogen from air, fully mixed: y_0 (14.696 / 44.696)**n, the pressure
    purge of Crowl & Louvar, Chemical Process Safety, ch. 7."""
    steps = [started(1.0)]
    for fill in range(fills):
        steps += [filled(1.1 + fill / 4), purged(1.2 + fill / 4)]
    span = at_end(WET, *steps)
    assert 100 * span.oxygen_mid == pytest.approx(expected_percent, abs=0.002)
    assert span.oxygen_low < span.oxygen_mid < span.oxygen_high


def test_a_fill_that_was_not_purged_to_zero_dilutes_by_the_pressures_it_had():
    half = at_end(WET, started(1.0), filled(1.1), purged(1.2, 15.0), filled(1.3))
    ratio = THIRTY_PSIG * (SEA_LEVEL + 15) / (SEA_LEVEL + 30)
    assert half.oxygen_mid == pytest.approx(purged_fraction(AIR, 0.0, ratio), rel=1e-4)


def test_topping_up_to_a_pressure_already_reached_changes_nothing():
    once = at_end(WET, started(1.0), filled(1.1))
    assert at_end(WET, started(1.0), filled(1.1), filled(1.2)).oxygen == once.oxygen


def test_gas_filled_pipe_keeps_its_state_while_a_run_goes_on():
    told = story(CYLINDERS, accepted(1), started(2, n2=98.6), filled(2.1), read(2.2, 99.5), until=4)
    assert told[-1] == (1, "inert")
    told = story(CYLINDERS, accepted(1), head_break(2), started(3), read(3.1, 99.0), until=4)
    assert told[-1] == (2, "aerated")


def test_a_poor_reading_during_a_run_takes_inert_away():
    assert at_end(CYLINDERS, accepted(1), started(2, n2=98.6), read(2.1, 95.0)).state == "in_doubt"


def test_a_good_reading_during_a_run_clears_no_doubt_before_acceptance():
    doubt = drain_down(2, flow_until_empty="unknown")
    steps = (accepted(1), doubt, started(3, n2=97.0), read(3.1, 99.0))
    assert at_end(CYLINDERS, *steps).state == "in_doubt"
    assert at_end(CYLINDERS, *steps, accepted(3.2, 99.0)).state == "inert"


def test_two_readings_of_a_run_do_not_stand_in_for_its_acceptance_under_a_generator():
    steps = (started(1), read(2, 98.5), read(4, 98.6))
    assert at_end(GENERATOR, *steps).state == "aerated"


def test_a_run_stopped_half_way_leaves_aerated_what_it_had_drained():
    span = at_end(WET, accepted(1), started(2), filled(2.1), read(2.2, 93.0), stopped(2.3, 9))
    assert (span.state, span.reason_code, span.cause_id) == ("aerated", "run.stopped", 9)
    assert span.oxygen_mid == pytest.approx(0.07)


def test_a_run_stopped_half_way_leaves_the_older_cause_of_aeration_in_place():
    span = at_end(WET, accepted(1), head_break(2, 7), started(3), stopped(3.1))
    assert (span.reason_code, span.cause_id) == ("head_break", 7)


def test_a_run_stopped_half_way_leaves_gas_filled_pipe_as_it_was():
    assert at_end(CYLINDERS, accepted(1), started(2, n2=98.6), stopped(2.1)).state == "inert"


def test_after_a_stopped_run_readings_count_again():
    span = at_end(CYLINDERS, accepted(1), started(2, n2=98.6), stopped(2.1), reading(3, 97.0))
    assert span.state == "in_doubt"


def test_acceptance_below_its_own_target_is_none():
    assert at_end(WET, accepted(1, n2=97.9, target=98.0)).state == "aerated"
    assert at_end(CYLINDERS, accepted(1), started(2), accepted(3, n2=97.0)).state == "in_doubt"


def test_acceptance_counts_by_the_target_it_was_given_then():
    """An owner who asks for more today has not undone what was accepted before."""
    assert at_end(WET, accepted(1, n2=97.5, target=97.0)).state == "inert"


def test_acceptance_ends_the_doubt_and_the_aeration_before_it():
    doubt = drain_down(2, flow_until_empty="unknown")
    assert at_end(WET, accepted(1), doubt, accepted(3)).state_since == day(3)
    assert at_end(WET, accepted(1), head_break(2), accepted(3)).state == "inert"


def test_a_fill_without_a_recorded_start_is_taken_as_cylinder_nitrogen():
    span = at_end(WET, filled(1.0))
    assert 100 * span.oxygen_mid == pytest.approx(6.955, abs=0.002)  # 99.9 % feed


def test_a_start_without_a_reading_is_taken_as_air_within_a_range():
    bare = LedgerItem(1, 1, "inerting.started", day(2), {})
    span = at_end(WET, accepted(1, number=5), bare)
    assert (span.oxygen_mid, span.oxygen_high) == (AIR, AIR)
    assert span.oxygen_low == pytest.approx(0.009)
