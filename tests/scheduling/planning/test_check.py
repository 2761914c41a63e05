"""A booking by hand: refused by what was stated, warned by what is assumed, or forced."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from scheduling import services
from scheduling.services import WorkError
from tests.scheduling.orders_world import book, make_crew
from tests.scheduling.planning_world import (
    MONDAY,
    at,
    make_depot,
    order_at,
    state_policy,
    takes,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew(world):
    state_policy(world.contractor, break_minutes=30)
    takes(world.contractor, 120)
    return make_crew(
        world.contractor, "Van 1", world.technician, hours="Mon-Fri 8-17", cylinder_places=3,
        depot=make_depot(world.contractor), overtime_minutes=30,
    )  # fmt: skip


@pytest.mark.parametrize(
    "facts, start, hours, why",
    [
        ({}, (15, 0), 3, "would be back at 18:10 on Mon 8 Jun, 40 min past the latest, 17:30"),
        ({}, (8, 0), 1, "would be at .* at 08:10 on Mon 8 Jun; it begins at 08:00"),
        ({}, (9, 0), 6, "would get no break by 13:30"),
        ({"hours": "10:00 to 15:00"}, (14, 0), 2, "is not open then: it is open Mon-Sun 10:00-15"),
        ({"volume_m3": 5.0}, (9, 0), 2, "needs 6 cylinders; the van of Van 1 holds 3"),
    ],
    ids=["home too late", "on the road still", "no break", "closed", "van too small"],
)
def test_what_a_crew_cannot_keep_is_refused_in_a_sentence(world, crew, facts, start, hours, why):
    task = order_at(world, "A-1", north_km=10, **facts)
    with pytest.raises(WorkError, match=why):
        book(task, world.technician, at(MONDAY, *start), hours=hours, crew=crew)
    task.refresh_from_db()
    assert not task.is_booked


def test_skills_and_days_away_are_asked(world, crew):
    task = order_at(world, "A-1", north_km=10)
    row = world.contractor.work_times.get()
    row.skills = "lift"
    row.save()
    with pytest.raises(WorkError, match="needs lift; Van 1 has not said that it can"):
        book(task, world.technician, at(MONDAY, 9), hours=2, crew=crew)
    crew.skills, crew.absences = "lift", str(MONDAY)
    crew.save()
    with pytest.raises(WorkError, match="does not go out on Mon 8 Jun"):
        book(task, world.technician, at(MONDAY, 9), hours=2, crew=crew)


def test_the_way_between_two_bookings_is_kept_free(world, crew):
    near, far = order_at(world, "A-1", north_km=10), order_at(world, "A-2", north_km=50)
    book(near, world.technician, at(MONDAY, 9), hours=2, crew=crew)
    with pytest.raises(WorkError, match="would be at .* at 11:40 on Mon 8 Jun; it begins at 11:30"):
        book(far, world.technician, at(MONDAY, 11, 30), hours=1, crew=crew)
    book(far, world.technician, at(MONDAY, 11, 40), hours=1, crew=crew)


def test_it_is_booked_all_the_same_for_a_reason_that_is_kept(client, world, crew):
    now = timezone.now()
    task = order_at(world, "A-1", north_km=10, hours="Mon 8-9", now=now)
    day = now.date() + timedelta(days=8 - now.weekday())  # Tuesday of next week
    client.force_login(world.technician)
    address = reverse("scheduling:task-step", args=[task.pk, "book"])
    assert b'type="hidden" name="despite"' in client.get(address).content
    data = {
        "seen": task.turn, "day": day.isoformat(), "begins": "10:00",
        "ends": "12:00", "crew": crew.pk, "reason": "",
    }  # fmt: skip
    refused = client.post(address, data | {"reason": "Only then"}).content.decode()
    assert 'type="checkbox" name="despite"' in refused and "not open then" in refused
    forced = data | {"despite": "on", "reason": "The porter lets us in"}
    assert client.post(address, forced).status_code == 302
    line = task.trail.last()
    assert line.reason.startswith("The porter lets us in (booked all the same, although: ")


def test_what_is_only_assumed_is_told_and_not_refused(world):
    crew = make_crew(world.contractor, "Van 1", world.technician)
    task = order_at(world, "A-1", north_km=10)
    booked = book(task, world.technician, at(MONDAY, 18), hours=2, crew=crew)
    assert booked.is_booked and "would be back at" in booked.remarks[0]


@pytest.mark.parametrize("hours", ["", "Mon 0:00 to 24:00; Tue 0:00 to 2:00"])
def test_work_may_go_on_past_midnight_where_the_building_stays_open(world, hours):
    crew = make_crew(world.contractor, "Van 1", world.technician)
    task = order_at(world, "A-1", **({"hours": hours} if hours else {}))
    book(task, world.technician, at(MONDAY, 22, 0), hours=4, crew=crew)
    task.refresh_from_db()
    assert task.is_booked and task.ends_at == at(MONDAY, 22, 0) + timedelta(hours=4)


def test_work_past_midnight_is_refused_where_the_building_shuts(world):
    crew = make_crew(world.contractor, "Van 1", world.technician)
    task = order_at(world, "A-1", hours="Mon 0:00 to 24:00; Tue 0:00 to 1:00")
    with pytest.raises(WorkError, match="is not open then"):
        book(task, world.technician, at(MONDAY, 22, 0), hours=4, crew=crew)


def test_a_crew_of_nobody_is_not_booked(world, crew):
    crew.people.clear()
    task = order_at(world, "A-1", north_km=10)
    with pytest.raises(WorkError, match="Nobody is in Van 1"):
        book(task, world.technician, at(MONDAY, 9), hours=2, crew=crew)
    with pytest.raises(WorkError, match="Nobody is in Van 1"):
        services.give_to_crew(task=task, crew=crew, by=world.technician, now=at(MONDAY, 7))
