"""A crew's days filled by the check of the planner: hours, ways, windows, gas, buildings."""

from datetime import timedelta

import pytest

from scheduling.planning.filling import fill_days
from tests.factories import NOW
from tests.scheduling.orders_world import make_crew
from tests.scheduling.planning_world import (
    MONDAY,
    clock,
    make_depot,
    order_at,
    state_policy,
    takes,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew(world):
    state_policy(world.contractor)
    takes(world.contractor, 180)
    depot = make_depot(world.contractor)
    return make_crew(
        world.contractor, "Van 1", hours="Mon-Fri 8-17", depot=depot, overtime_minutes=0,
        cylinder_places=20,
    )  # fmt: skip


def filled(tasks, crew, **how):
    return fill_days(tasks, crew, MONDAY, now=NOW, **how)


def starts(found):
    return [f"{one.task.system.tag} {clock(one.starts_at)}" for one in found.placed]


def test_seven_jobs_of_three_hours_go_to_four_days_and_not_past_midnight(world, crew):
    """Once they ran from 08:00 on Monday to 05:00 on Tuesday. By hand: ten minutes out, three
    hours, no way between jobs at one place, ten minutes home: two fit between 08:00 and 17:00."""
    tasks = [order_at(world, f"SK-{n}", north_km=10) for n in range(1, 8)]
    found = filled(tasks, crew)
    assert starts(found) == [
        "SK-1 Mon 08:10", "SK-2 Mon 11:10", "SK-3 Tue 08:10", "SK-4 Tue 11:10",
        "SK-5 Wed 08:10", "SK-6 Wed 11:10", "SK-7 Thu 08:10",
    ]  # fmt: skip
    assert len(found.later) == 5 and not found.left
    assert found.later[0] == (
        "SK-3, Re-inerting order goes to Tue 9 Jun. Van 1 would be back at 17:20 on Mon 8 Jun, "
        "20 min past the latest, 17:00, overtime included."
    )


def test_a_day_goes_round_rather_than_to_and_fro(world, crew):
    """Along one road: 20 km, then 5 km, then 15 km; by hand the crew does 5, 15, 20 in turn."""
    tasks = [order_at(world, f"A-{km}", north_km=km) for km in (20, 5, 15)]
    found = filled(tasks, crew, minutes=60)
    assert starts(found) in (
        ["A-5 Mon 08:05", "A-15 Mon 09:15", "A-20 Mon 10:20"],
        ["A-20 Mon 08:20", "A-15 Mon 09:25", "A-5 Mon 10:35"],
    )


def test_access_from_ten_to_three_is_kept_and_what_it_shuts_out_is_said(world, crew):
    open_late = order_at(world, "OH-1", north_km=10, hours="10:00 to 15:00")
    never = order_at(world, "OH-2", north_km=10, hours="18-20")
    found = filled([open_late, never], crew)
    assert starts(found) == ["OH-1 Mon 10:00"]
    assert found.left == [
        "OH-2, Re-inerting order: no day until Sun 21 Jun takes it. The building is not open long "
        "enough for OH-2, Re-inerting order on Mon 8 Jun."
    ]


def test_two_systems_of_one_building_are_done_on_two_days(world, crew):
    first = order_at(world, "GW-1")
    from tests.factories import make_building, make_system
    from tests.scheduling.orders_world import make_order

    site = first.system.site
    shed = make_building(site)
    first.system.building = shed
    first.system.save()
    second = make_order(make_system(site, world.owner, tag="GW-2", building=shed))
    found = filled([first, second], crew)
    assert [clock(one.starts_at)[:3] for one in found.placed] == ["Mon", "Tue"]
    assert "two systems of one building" in found.later[0]


def test_the_crew_leaves_on_the_first_day_when_it_is_told_to(world, crew):
    found = filled([order_at(world, "PF-1", north_km=10)], crew, sets_out=9 * 60)
    assert starts(found) == ["PF-1 Mon 09:10"]


def test_a_crew_away_for_the_week_is_filled_the_week_after(world, crew):
    crew.absences = f"{MONDAY} to {MONDAY + timedelta(days=6)}"
    crew.save()
    found = filled([order_at(world, "PF-1")], crew)
    assert [one.starts_at.date() for one in found.placed] == [MONDAY + timedelta(days=7)]


def test_what_no_van_can_carry_is_left_and_said(world, crew):
    crew.cylinder_places = 0
    crew.save()
    found = filled([order_at(world, "PF-1")], crew)
    assert found.placed == []
    assert "The van of Van 1 carries no gas" in found.left[0]
