"""From rows of the register to what the physics is told."""

from datetime import date, timedelta

import pytest

from registry.assess import case_at
from registry.assess.clock import moment, years
from registry.corrosion.assess import assess_one
from registry.corrosion.constants import OXYGEN_IN_DRY_AIR
from registry.services import add_fitting, record, withdraw
from tests.factories import NOW, PSI, make_pipe_run, make_record, make_system
from tests.world_objects import make_run

ENTERED = NOW - timedelta(days=2000)
COVERED = dict.fromkeys(
    (
        "nitrogen_before_opening",
        "regulator_above_system",
        "flow_until_empty",
        "one_drain_at_a_time",
    ),
    "yes",
)


def ago(days: float):
    return NOW - timedelta(days=days)


@pytest.fixture
def wet(world):
    system = make_system(world.site, world.owner, now=ENTERED, tag="NQ-101")
    make_pipe_run(system, world.owner, now=ENTERED)
    return system


@pytest.fixture
def dry(world):
    system = make_system(
        world.site, world.owner, now=ENTERED, tag="NQ-201", kind="dry", gas_supply="compressor"
    )
    make_pipe_run(system, world.owner, now=ENTERED, material="galvanized_steel")
    return system


def fills(system):
    """Days ago and oxygen of each fill on record, oldest first."""
    gas = case_at(system, NOW).gas
    return [
        (round((NOW - moment(span.start_yr)) / timedelta(days=1)), round(span.oxygen, 4))
        for span, cause in zip(gas.spans, gas.causes, strict=True)
        if cause
    ]


def test_a_system_without_pipe_is_not_assessed(world):
    assert case_at(make_system(world.site, world.owner), NOW) is None


def test_before_the_register_began_the_physics_is_told_nothing(wet):
    case = case_at(wet, NOW)
    assert [moment(span.start_yr) for span in case.input.spans] == [ENTERED]
    assert case.input.spans[0].oxygen == 0
    assert case.gas.known_from == ENTERED


def test_a_broken_drain_down_lets_the_next_fill_trap_air(wet, world):
    make_record(wet, "event.drain_down", ago(400), world.owner, **COVERED | {
        "one_drain_at_a_time": "no", "extent": "whole",
    })  # fmt: skip
    assert fills(wet) == [(400, OXYGEN_IN_DRY_AIR)]


def test_a_drain_down_under_nitrogen_traps_what_was_there(wet, world):
    make_run(wet, world.owner, ago(500), (92.0, 99.0))
    make_record(wet, "event.drain_down", ago(300), world.owner, **COVERED, extent="whole")
    assert fills(wet)[-1] == (300, 0.01)


def test_an_outage_of_several_records_is_one_fill(wet, world):
    make_record(wet, "event.head_break", ago(100), world.owner, count=1)
    make_record(
        wet, "event.repair", ago(99), world.owner,
        pipe_opened="yes", under_nitrogen="no", work="New sprinkler",
    )  # fmt: skip
    make_record(wet, "event.water_fill", ago(98), world.owner, gas_before="air")
    assert fills(wet) == [(98, OXYGEN_IN_DRY_AIR)]


def test_a_head_break_and_a_run_weeks_later_are_two_fills(wet, world):
    make_record(wet, "event.head_break", ago(60), world.owner, count=1)
    run = make_run(wet, world.owner, ago(30), (92.0, 99.0))
    assert fills(wet) == [(60, OXYGEN_IN_DRY_AIR)]
    make_record(wet, "event.water_fill", ago(29), world.owner, gas_before="nitrogen")
    assert run.system == wet
    assert fills(wet) == [(60, OXYGEN_IN_DRY_AIR), (29, 0.01)]


def test_measured_dissolved_oxygen_of_a_fill_reaches_the_physics(wet, world):
    make_record(
        wet, "event.water_fill", ago(10), world.owner, gas_before="air", dissolved_oxygen_mg_l=9.5
    )
    dose = case_at(wet, NOW).input.water[-1]
    assert dose.dissolved_oxygen_kg_m3 == pytest.approx(9.5e-3)


def test_a_test_flow_renews_its_share_of_the_water(wet, world):
    volume_m3 = wet.volume().m3
    make_record(
        wet, "event.test_flow", ago(10), world.owner, through="main_drain", water_m3=volume_m3 / 4
    )
    assert case_at(wet, NOW).input.water[-1].share == pytest.approx(0.25)


def test_events_from_before_the_register_come_on_top_of_the_assumed_fills(wet, world):
    make_record(wet, "event.head_break", ENTERED - timedelta(days=731), world.owner, count=1)
    gas = case_at(wet, NOW).gas
    assert gas.known_from == ENTERED - timedelta(days=731)
    assert len(gas.spans) == 1 + 3  # the event, and once a year or more until the register began
    assert [cause is None for cause in gas.causes] == [False, True, True, True]


def test_the_next_fill_is_expected_to_trap_what_the_pipe_holds(wet, world):
    assert case_at(wet, NOW).input.future_oxygen == OXYGEN_IN_DRY_AIR
    make_run(wet, world.owner, ago(30), (92.0, 99.0))
    assert case_at(wet, NOW).input.future_oxygen == pytest.approx(0.01)


def test_fills_to_expect_follow_those_on_record(wet, world):
    quiet = case_at(wet, NOW).input.future_fills_per_year
    for days in range(100, 1900, 100):
        make_record(wet, "event.head_break", ago(days), world.owner, count=1)
    busy = case_at(wet, NOW).input.future_fills_per_year
    assert quiet < 0.3 < 2.0 < busy


def test_a_compressor_makes_up_air_and_a_generator_nitrogen(dry, world):
    (span,) = case_at(dry, NOW).input.spans
    assert span.makeup_oxygen == OXYGEN_IN_DRY_AIR
    assert span.turnover_per_yr == pytest.approx(365.25 / (30 + 14.696), rel=1e-3)
    dry.gas_supply, dry.supply_n2_percent = "generator", 98.0
    dry.save()
    assert case_at(dry, NOW).input.spans[-1].makeup_oxygen == pytest.approx(0.02)


def test_gas_pressure_is_absolute_and_water_pressure_too(wet, dry):
    assert case_at(dry, NOW).input.pressure_pa == pytest.approx(30 * PSI + 101325)
    assert case_at(wet, NOW).input.pressure_pa == pytest.approx(100 * PSI + 101325)


def test_pipe_of_which_only_the_year_is_known_dates_from_its_middle(world):
    system = make_system(
        world.site, world.owner, installed_on=date(2010, 1, 1), installed_precision="year"
    )
    make_pipe_run(system, world.owner)
    assert moment(case_at(system, NOW).input.runs[0].installed_yr).date() == date(2010, 7, 2)


def test_a_vent_counts_until_it_is_taken_out(wet, world):
    add_fitting(
        system=wet, recorded_by=world.owner, now=NOW, kind="vent",
        fitted_on=date(2020, 1, 1), removed_on=date(2025, 1, 1),
    )  # fmt: skip
    assert not case_at(wet, NOW).input.is_vented
    assert case_at(wet, NOW - timedelta(days=1000)).input.is_vented


def test_a_wall_reading_goes_to_the_run_of_its_size_and_role(wet, world):
    make_pipe_run(wet, world.owner, now=ENTERED, role="branch_line", nominal_size="1-1/4")
    make_record(
        wet, "reading.wall", ago(5), world.owner,
        wall_mm=2.5, run_role="branch_line", nominal_size="1-1/4",
    )  # fmt: skip
    case = case_at(wet, NOW)
    (reading,) = case.input.walls
    assert case.book.runs[reading.run].nominal_size == "1-1/4"
    assert reading.remaining_m == pytest.approx(2.5e-3)


def test_evidence_that_cannot_be_used_says_why(wet, world):
    make_record(
        wet, "reading.wall", ago(5), world.owner,
        wall_mm=2.5, run_role="riser", nominal_size="12",
    )  # fmt: skip
    make_record(
        wet, "event.leak", ago(4), world.owner, form="valve", through="water", air_entered="no"
    )
    case = case_at(wet, NOW)
    assert not case.input.walls and not case.input.leaks
    assert all(row.why_not for row in case.evidence.judged)
    assert len(case.evidence.judged) == 2


def test_a_pinhole_leak_goes_to_the_only_run_of_the_role_named(wet, world):
    make_record(
        wet, "event.leak", ago(4), world.owner,
        form="pinhole", through="water", air_entered="no", run_role="cross_main",
    )  # fmt: skip
    assert case_at(wet, NOW).input.leaks[0].run == 0
    make_pipe_run(wet, world.owner, now=ENTERED, nominal_size="3")
    assert case_at(wet, NOW).input.leaks[0].run is None


def test_a_coupon_becomes_a_rate(wet, world):
    year = 365.25 * 86400
    make_record(
        wet, "reading.coupon", ago(4), world.owner,
        mass_loss_kg=7870 * 1e-4 * 0.01, area_m2=0.01, exposed_s=year, material="black_steel",
    )  # fmt: skip
    assert case_at(wet, NOW).input.coupons[0].rate_m_per_yr == pytest.approx(1e-4)


def test_a_withdrawn_event_no_longer_counts_and_earlier_it_did(wet, world):
    wrong = make_record(wet, "event.head_break", ago(100), world.owner, now=ago(90), count=1)
    withdraw(record=wrong, reason="Other system", recorded_by=world.owner, now=ago(10))
    assert fills(wet) == []
    before = case_at(wet, ago(20)).gas
    assert [cause for cause in before.causes if cause] == [wrong.pk]


def test_corrected_pipe_counts_from_its_correction_on(wet, world):
    (old,) = wet.pipe_runs.current()
    make_pipe_run(wet, world.owner, now=ago(10), nominal_size="6", supersedes=old)
    assert [run.nominal_size for run in case_at(wet, NOW).book.runs] == ["6"]
    assert [run.nominal_size for run in case_at(wet, ago(20)).book.runs] == ["4"]


def test_the_order_of_entry_does_not_matter(world):
    events = [
        ("event.head_break", 300, {"count": 1}),
        ("event.leak", 200, {"form": "pinhole", "through": "water", "air_entered": "yes"}),
        ("event.water_fill", 100, {"gas_before": "air"}),
        ("reading.wall", 50, {"wall_mm": 2.6, "run_role": "cross_main", "nominal_size": "4"}),
    ]
    digests = set()
    for order in (events, events[::-1], events[1:] + events[:1]):
        system = make_system(world.site, world.owner, now=ENTERED)
        make_pipe_run(system, world.owner, now=ENTERED)
        for kind, days, details in order:
            make_record(system, kind, ago(days), world.owner, **details)
        digests.add(case_at(system, NOW).digest)
    assert len(digests) == 1


def test_time_alone_does_not_change_the_digest_and_pipe_does(wet, world):
    then, now = case_at(wet, ago(50)), case_at(wet, NOW)
    assert then.digest == now.digest
    assert years(now.book.known_at) > years(then.book.known_at)
    make_pipe_run(wet, world.owner, nominal_size="6")
    assert case_at(wet, NOW).digest != now.digest


def test_a_wall_reading_keeps_the_error_it_states(wet, world):
    for error_mm in (0.2, None):
        make_record(
            wet, "reading.wall", ago(5), world.owner,
            wall_mm=2.5, run_role="cross_main", nominal_size="4",
            **({} if error_mm is None else {"error_mm": error_mm}),
        )  # fmt: skip
    errors = [reading.error_m for reading in case_at(wet, NOW).input.walls]
    assert errors == [pytest.approx(2e-4), None]


def test_what_was_seen_inside_tells_of_sites_anywhere_and_of_water_in_gas_filled_pipe(
    wet, dry, world
):
    for system in (wet, dry):
        for finding in ("slime", "scale", "clear", "debris"):
            make_record(system, "reading.obstruction", ago(5), world.owner, finding=finding)
    seen = case_at(dry, NOW)
    assert (seen.input.found_wet, seen.input.found_clear) == (2, 1)
    assert [bool(row.why_not) for row in seen.evidence.judged] == [False, False, False, True]
    in_wet = case_at(wet, NOW)
    assert in_wet.input.signs == seen.input.signs == ("clear", "slime", "tubercles")
    assert (in_wet.input.found_wet, in_wet.input.found_clear) == (0, 0)


@pytest.mark.parametrize(("unknown", "since"), [(0.0, 0.0), (3.0, 3.0), (30.0, 30.0)])
def test_an_assumption_set_before_model_2_keeps_its_meaning(wet, world, unknown, since):
    """It told of how many years after installation leaks are not known."""
    details = {"key": "leaks_unknown_years", "value": unknown, "unit": "yr"}
    make_record(wet, "register.assumption", ago(10), **details)
    given = case_at(wet, NOW).input
    known_from = given.book_began_yr - given.assumptions.leaks_known_years
    assert known_from == pytest.approx(given.installed_yr + since, abs=1e-6)


def test_the_later_of_two_words_on_known_leaks_counts(wet, world):
    for key, value in (("leaks_unknown_years", 0.0), ("leaks_known_years", 2.0)):
        details = {"key": key, "value": value, "unit": "yr"}
        make_record(wet, "register.assumption", ago(10), **details)
    assert case_at(wet, NOW).input.assumptions.leaks_known_years == 2.0


def wall_read(system, world, days, wall_mm, supersedes=None):
    return record(
        system=system, kind="reading.wall", occurred_at=ago(days), recorded_by=world.owner, now=NOW,
        supersedes=supersedes,
        details={
            "wall_mm": wall_mm, "run_role": "cross_main", "nominal_size": "4",
            "position": "2 m from the riser, at 4 o'clock", "method": "suggested_position",
        },
    )  # fmt: skip


def wall_left_mm(system):
    case = case_at(system, NOW)
    run = next(at for at, run in enumerate(case.book.runs) if run.nominal_size == "4")
    return 1000 * float(assess_one(case.input).run_left_m[run])


def test_a_thicker_reading_at_the_same_position_gives_no_wall_back(wet, world):
    """Steel does not grow: the thinner one counts until somebody corrects it."""
    thin = wall_read(wet, world, 40, 1.7)
    wall_read(wet, world, 5, 2.4)
    assert len(case_at(wet, NOW).input.walls) == 2
    assert wall_left_mm(wet) <= 1.7
    wall_read(wet, world, 40, 2.5, supersedes=thin)
    walls = case_at(wet, NOW).input.walls
    assert sorted(round(1000 * wall.remaining_m, 3) for wall in walls) == [2.4, 2.5]
    assert 1.7 < wall_left_mm(wet) <= 2.4


def test_a_thinner_reading_at_the_same_position_takes_the_place_of_the_earlier(wet, world):
    wall_read(wet, world, 40, 2.4)
    before = wall_left_mm(wet)
    wall_read(wet, world, 5, 1.7)
    assert wall_left_mm(wet) <= 1.7 < before


def test_several_leaks_on_a_run_that_was_read_all_count(wet, world):
    wall_read(wet, world, 40, 2.2)
    chances = [float(assess_one(case_at(wet, NOW).input).leak_probability[0, 3])]
    for days in (30, 20, 10):
        details = {"through": "water", "air_entered": "no", "form": "pinhole"}
        make_record(wet, "event.leak", ago(days), world.owner, run_role="cross_main", **details)
        given = case_at(wet, NOW).input
        assert {leak.run for leak in given.leaks} == {given.walls[0].run}
        chances.append(float(assess_one(given).leak_probability[0, 3]))
    assert len(given.leaks) == 3
    assert chances == sorted(chances) and chances[-1] > 2 * chances[0]
