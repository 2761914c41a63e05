"""One order moved by hand: the same check as the planner's, and what the move costs."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from scheduling.models import Task
from scheduling.planning.weeks.moving import options
from tests.factories import NOW
from tests.scheduling.orders_world import book, make_crew
from tests.scheduling.planning_world import (
    MONDAY,
    at,
    clock,
    make_depot,
    order_at,
    state_policy,
    takes,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew(world):
    state_policy(world.contractor, drive_cost=2)
    takes(world.contractor, 120)
    return make_crew(
        world.contractor, "Van 1", world.technician, hours="Mon-Fri 8-17", cylinder_places=20,
        depot=make_depot(world.contractor), overtime_minutes=0,
    )  # fmt: skip


def by_day(found):
    return {option.day: option for option in found}


def test_each_day_has_a_time_and_a_price_or_what_keeps_it_out(world, crew):
    task = order_at(world, "A-1", north_km=10)
    full = order_at(world, "A-2", north_km=10)
    book(full, world.technician, at(MONDAY, 8, 10), hours=8, crew=crew)
    found = by_day(options(task, MONDAY, now=NOW))
    assert found[MONDAY].starts_at is None and "would be back at 18:20" in found[MONDAY].why
    tuesday, friday = MONDAY + timedelta(days=1), MONDAY + timedelta(days=4)
    assert clock(found[tuesday].starts_at) == "Tue 08:10"
    # By hand: three days of waiting more, at the 60 thousandths a day of an order never assessed.
    rate = found[friday].costs - found[tuesday].costs
    assert rate % 3 == 0 and rate > 0
    saturday = MONDAY + timedelta(days=5)
    assert "does not go out" in found[saturday].why


def test_a_booking_that_stays_costs_nothing_and_a_longer_way_costs_its_minutes(world, crew):
    task = order_at(world, "A-1", north_km=10)
    task = book(task, world.technician, at(MONDAY, 8, 10), hours=2, crew=crew)
    other = make_crew(
        world.contractor, "Van 2", hours="Mon-Fri 8-17", cylinder_places=20,
        depot=make_depot(world.contractor, name="Far", latitude=52.0 - 0.0899322),
    )  # fmt: skip
    found = [o for o in options(task, MONDAY, now=NOW) if o.day == MONDAY]
    here, there = sorted(found, key=lambda option: option.crew.name)
    assert here.is_present and here.costs == 0
    assert there.crew == other and there.costs == 2 * (2 * 20 - 2 * 10)  # 20 km, at 2 a minute


def test_the_page_moves_by_keyboard_and_says_the_price(client, world, crew):
    now = timezone.now()
    monday = now.date() - timedelta(days=now.weekday()) + timedelta(days=7)
    task = order_at(world, "A-1", north_km=10, now=now)
    client.force_login(world.technician)
    address = reverse("scheduling:week-move", args=[task.pk])
    where = f"{crew.pk}-{monday}"
    html = client.get(address, {"on": monday, "where": where}).content.decode()
    assert "could begin on Monday" in html and "Saves" in html
    closed = f"{crew.pk}-{monday + timedelta(days=6)}"
    data = {"on": monday, "seen": task.turn, "where": closed}
    assert "does not go out" in client.post(address, data).content.decode()
    assert client.post(address, data | {"where": where}).status_code == 302
    task.refresh_from_db()
    assert task.is_booked and clock(task.starts_at)[:3] == "Mon"
    late = client.post(address, data | {"where": f"{crew.pk}-{monday + timedelta(days=1)}"})
    assert "was first" in late.content.decode()  # the page still showed the turn before
    assert Task.objects.booked().count() == 1
