import numpy as np
import pytest

from registry.corrosion import details
from registry.corrosion.assess import assess_one
from registry.corrosion.inputs import WallReading
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


def test_points_to_measure_are_the_waterlines_of_runs_not_measured_yet():
    points = details.wall_points(old_wet(), most=2)
    assert [point.run for point in points] == [0, 1]
    assert points[0].clock == pytest.approx((2.02, 9.98), abs=0.01)
    measured = old_wet(walls=(WallReading(0, 13.0, 2.9e-3),))
    assert details.wall_points(measured, most=1)[0].run == 1


def test_pools_are_measured_low_on_the_pipe():
    assert details.wall_points(dry(now_yr=2.0))[0].clock == pytest.approx((3.98, 8.02), abs=0.01)


def test_the_next_survey_is_sooner_the_worse_it_stands_and_never_beyond_five_years():
    inert = wet(now_yr=1.0, future_oxygen=0.0, spans=())
    assert details.years_to_reinspection(inert) == 5.0
    assert details.years_to_reinspection(old_wet()) < 5.0
    assert details.years_to_reinspection(dry(now_yr=3.0)) < 0.5
