import numpy as np
import pytest

from registry.corrosion import details, points, where
from registry.corrosion.assess import assess_one
from registry.corrosion.inputs import GasSpan, WallReading
from tests.registry.corrosion.builders import air_fills, dry, run, wet


def old_wet(**changes):
    return wet(**{"now_yr": 14.0, "spans": air_fills(8, 9, 10, 11, 12, 13.9), **changes})


def test_every_run_has_ordered_bands_within_its_wall():
    for system in (old_wet(), dry(now_yr=3.0)):
        for detail, pipe in zip(details.run_details(system), system.runs, strict=True):
            for band in (detail.loss_m, detail.deepest_m):
                assert 0 <= band.low <= band.middle <= band.high <= pipe.wall_m
            assert detail.deepest_m.middle >= detail.loss_m.middle
            assert detail.wall_left_m == pytest.approx(pipe.wall_m - detail.loss_m.middle)


def test_runs_together_are_as_likely_to_leak_as_the_system():
    """Leaks of runs are independent for a given theta, so theta makes the product too careful."""
    system = old_wet()
    runs = [detail.leak_probability_5yr for detail in details.run_details(system)]
    whole = assess_one(system).leak_probability[0, 2]
    assert max(runs) <= whole + 1e-9
    assert whole <= 1 - np.prod([1 - p for p in runs]) + 1e-9


def test_copper_shows_no_invented_numbers():
    detail = details.run_details(old_wet(runs=(run("1", "L", 50.0, material="copper"),)))[0]
    assert not detail.in_model
    assert detail.loss_m.high == detail.deepest_m.high == detail.leak_probability_5yr == 0.0


def test_the_fan_starts_at_zero_widens_and_meets_today():
    system = old_wet()
    fan = details.wall_fan(system, 1, np.linspace(0.0, 34.0, 35))
    assert fan.low_m[0] == fan.high_m[0] == 0.0
    assert np.all(np.diff(fan.middle_m) >= 0)
    assert np.all(np.diff(fan.high_m - fan.low_m) >= -1e-12)
    assert fan.middle_m[14] == pytest.approx(assess_one(system).run_loss_m[1, 1])


def test_places_to_measure_are_worth_something_and_vertical_pipe_has_no_clock():
    points = where.wall_points(old_wet(), most=5)
    assert {point.run for point in points} == set(range(5))
    assert [p.worth for p in points] == sorted((p.worth for p in points), reverse=True)
    by_run = {point.run: point for point in points}
    assert by_run[0].clock is None
    assert by_run[1].clock == pytest.approx((1.52, 10.48), abs=0.01)


def test_a_place_just_scanned_is_worth_less_than_before():
    run = where.wall_points(old_wet(), most=1)[0].run
    wall = old_wet().runs[run].wall_m
    scans = (WallReading(run, 14.0, wall, "full_scan", 1e-4, "yes"),) * 2
    after = {p.run: p.worth for p in where.wall_points(old_wet(walls=scans), most=5)}
    before = {p.run: p.worth for p in where.wall_points(old_wet(), most=5)}
    assert after[run] < before[run]


def test_pools_are_measured_low_on_the_pipe():
    clocks = [p.clock for p in where.wall_points(dry(now_yr=2.0), most=5) if p.clock]
    assert clocks[0] == pytest.approx((3.98, 8.02), abs=0.01)


def test_the_next_look_is_sooner_the_worse_it_stands_and_says_what_says_so():
    inert = wet(now_yr=1.0, future_oxygen=0.0, spans=(GasSpan(0.0, 0.0),), runs=(run("4", "40"),))
    assert points.next_look(inert) == points.NextLook(5.0, "limit")
    assert points.next_look(dry(now_yr=3.0)).by == "model"
    thin = wet(now_yr=10.0, spans=(GasSpan(0.0, 0.02),), walls=(WallReading(0, 10.0, 0.8e-3),))
    found = points.next_look(thin)
    assert found.run == 0 and found.years < 1.0


def test_the_arithmetic_of_api_570():
    """Long and short term rate, remaining life and half of it: 3.4 mm in 2000, 3.0 after 10 years,
    2.6 after 12; by hand."""
    walls = (
        WallReading(0, 10.0, 3.0e-3, dressed="yes"),
        WallReading(0, 12.0, 2.6e-3, dressed="yes"),
    )
    first, last = points.measured_points(wet(now_yr=12.0, walls=walls))
    assert first.short_term is None
    assert last.long_term == pytest.approx(0.8e-3 / 12.0)
    assert last.short_term == last.governing == pytest.approx(0.2e-3)
    assert last.needed_m == pytest.approx(0.525e-3, abs=1e-6)
    assert last.life_yr == pytest.approx((2.6e-3 - last.needed_m) / 0.2e-3)
    assert last.interval_yr == pytest.approx(min(last.life_yr / 2, 5.0))
    assert last.structural_m == pytest.approx(0.11 * 0.0254)


def test_a_reading_that_nothing_explains_is_named():
    inert = wet(now_yr=10.0, spans=(GasSpan(0.0, 0.02),), walls=(WallReading(0, 10.0, 1.0e-3),))
    point = points.measured_points(inert)[0]
    assert point.contradicts == "thin" and point.other_cause > 0.9
    assert (
        points.measured_points(old_wet(walls=(WallReading(0, 14.0, 3.3e-3),)))[0].contradicts == ""
    )


def test_a_spot_made_inert_is_said_to_grow_slower_than_over_its_life():
    spans = (*air_fills(*range(14)), GasSpan(14.0, 0.001))
    reading = (WallReading(0, 14.0, 2.4e-3),)
    inert, air = (
        points.measured_points(wet(now_yr=15.0, spans=one, walls=reading, future_oxygen=y))[0]
        for one, y in ((spans, 0.001), (air_fills(*range(15)), 0.2095))
    )
    assert inert.has_slowed and not air.has_slowed
