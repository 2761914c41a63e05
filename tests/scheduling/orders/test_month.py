"""Bookings on a month and a week: where each stands, and what may be moved."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from scheduling.models import Task
from scheduling.orders.month import (
    month_after,
    month_before,
    month_grid,
    week_of,
    week_rows,
    weeks_of,
)
from tests.factories import NOW, make_system
from tests.scheduling.ledger import DAY
from tests.scheduling.orders_world import HOUR, book, make_crew, make_order

MORNING = datetime(2026, 6, 3, 8, tzinfo=UTC)


@pytest.mark.parametrize(
    ("month", "weeks", "first", "last"),
    [
        (date(2026, 6, 1), 5, date(2026, 6, 1), date(2026, 7, 5)),
        (date(2027, 2, 1), 4, date(2027, 2, 1), date(2027, 2, 28)),
        (date(2028, 2, 1), 5, date(2028, 1, 31), date(2028, 3, 5)),  # leap year
        (date(2026, 8, 1), 6, date(2026, 7, 27), date(2026, 9, 6)),
    ],
)
def test_weeks_of_a_month_begin_on_monday_and_hold_all_of_it(month, weeks, first, last):
    laid_out = weeks_of(month)
    assert (len(laid_out), laid_out[0][0], laid_out[-1][-1]) == (weeks, first, last)


@pytest.mark.parametrize(
    ("month", "before", "after"),
    [
        (date(2026, 1, 1), date(2025, 12, 1), date(2026, 2, 1)),
        (date(2026, 3, 1), date(2026, 2, 1), date(2026, 4, 1)),
        (date(2026, 12, 1), date(2026, 11, 1), date(2027, 1, 1)),
    ],
)
def test_neighbours_of_a_month(month, before, after):
    assert (month_before(month), month_after(month)) == (before, after)


def test_a_week_begins_on_monday():
    assert week_of(date(2026, 6, 7))[0] == week_of(date(2026, 6, 1))[0] == date(2026, 6, 1)


@pytest.fixture
def crew(world):
    return make_crew(world.contractor)


@pytest.fixture
def booked(system, technician, crew):
    order = make_order(system)
    return book(order, technician, MORNING, crew=crew)


def test_a_month_shows_a_booking_on_its_day_and_shades_the_days_of_others(booked):
    grid = month_grid(date(2026, 6, 1), [booked], {booked.pk})
    cells = {cell.day: cell for week in grid for cell in week}
    assert [entry.task for entry in cells[date(2026, 6, 3)].entries] == [booked]
    assert sum(len(cell.entries) for cell in cells.values()) == 1
    assert cells[date(2026, 7, 5)].is_outside and not cells[date(2026, 6, 30)].is_outside


def test_a_week_has_a_row_for_every_crew_and_for_what_names_none(world, booked, crew):
    idle = make_crew(world.contractor, "Van 2")
    without = book(
        make_order(make_system(world.other_site, world.stranger)), world.stranger, MORNING
    )
    rows = week_rows(week_of(date(2026, 6, 3)), [crew, idle], [booked, without], set())
    assert [row.name for row in rows] == ["Van 1", "Van 2", "No crew named"]
    counts = [[len(cell.entries) for cell in row.cells] for row in rows]
    assert counts == [[0, 0, 1, 0, 0, 0, 0], [0] * 7, [0, 0, 1, 0, 0, 0, 0]]


def test_a_crew_that_no_longer_goes_out_keeps_its_row_while_it_is_booked(booked):
    rows = week_rows(week_of(date(2026, 6, 3)), [], [booked], set())
    assert [row.name for row in rows] == ["Van 1", "No crew named"]


@pytest.mark.parametrize("name", ["month", "week"])
def test_pages_offer_the_move_to_those_who_have_the_work_alone(client, world, booked, name):
    address = reverse(f"scheduling:{name}")
    moves = {
        "month": f'data-step="{reverse("scheduling:task-step", args=[booked.pk, "move"])}"',
        "week": f'data-move="{reverse("scheduling:week-move", args=[booked.pk])}"',
    }
    client.force_login(world.technician)
    html = client.get(address, {"on": "2026-06-03"}).content.decode()
    assert moves[name] in html and 'draggable="true"' in html
    assert "09:00" in html  # summer time at the site
    client.force_login(world.owner)
    html = client.get(address, {"on": "2026-06-03"}).content.decode()
    assert "NQ-101" in html and 'draggable="true"' not in html


def test_work_without_a_time_is_offered_for_booking(client, world, system):
    order = make_order(system)
    client.force_login(world.technician)
    html = client.get(reverse("scheduling:month"), {"on": "2026-06-03"}).content.decode()
    assert reverse("scheduling:task-step", args=[order.pk, "book"]) in html


def test_a_move_goes_back_to_the_page_it_came_from_and_nowhere_else(
    client, technician, system, crew
):
    from django.utils import timezone

    now = timezone.now()
    order = make_order(system, now=now)
    starts_at = now.replace(hour=8, minute=0, second=0, microsecond=0) + 2 * DAY
    order = book(order, technician, starts_at, now=now, crew=crew)
    client.force_login(technician)
    day = (starts_at + DAY).date().isoformat()
    data = {
        "seen": order.turn, "day": day, "begins": "10:00", "ends": "12:00", "crew": crew.pk,
        "next": "/month/?on=2026-06-03",
    }  # fmt: skip
    address = reverse("scheduling:task-step", args=[order.pk, "move"])
    assert client.post(address, data)["Location"] == "/month/?on=2026-06-03"
    order.refresh_from_db()
    assert order.ends_at - order.starts_at == 2 * HOUR
    data |= {"seen": order.turn, "next": "https://elsewhere.example/", "ends": "13:00"}
    assert client.post(address, data)["Location"] == order.get_absolute_url()


def test_the_month_asks_the_same_number_of_questions_however_full_it_is(
    client, world, crew, django_assert_max_num_queries
):
    for number in range(6):
        order = make_order(make_system(world.site, world.owner, tag=f"NQ-20{number}"))
        book(order, world.technician, MORNING + timedelta(hours=3 * number), crew=crew, now=NOW)
    client.force_login(world.technician)
    assert Task.objects.booked().count() == 6
    with django_assert_max_num_queries(14):
        client.get(reverse("scheduling:month"), {"on": "2026-06-03"})
