"""The pages on which orders are accepted, booked, declined and handed over, one or several."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.assess.where_to_measure import LEAST_WORTH, place_worth_measuring
from registry.templatetags.risk import model_number
from scheduling.models import Crew, Task
from tests.factories import make_building, make_pipe_run, make_system, make_user
from tests.html import one_line
from tests.scheduling.orders_world import make_crew, make_order

pytestmark = pytest.mark.django_db
SEVERAL = reverse("scheduling:work-several")


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def order(system, now):
    return make_order(system, now=now)


def step(task, code):
    return reverse("scheduling:task-step", args=[task.pk, code])


def test_accepting_takes_one_press(client, order, technician):
    client.force_login(technician)
    html = client.get(order.get_absolute_url()).content.decode()
    assert step(order, "accept") in html and step(order, "decline") in html
    client.post(step(order, "accept"), {"seen": order.turn})
    order.refresh_from_db()
    assert order.work_state == "accepted"
    html = client.get(order.get_absolute_url()).content.decode()
    assert step(order, "accept") not in html
    assert "Tam Technician" in html and "state offered → accepted" in html


def test_an_old_page_is_told_who_was_first(client, order, world):
    client.force_login(make_user(world.contractor, "recorder", "Rae Recorder"))
    client.post(step(order, "accept"), {"seen": order.turn})
    client.force_login(world.technician)
    response = client.post(step(order, "accept"), {"seen": order.turn})
    assert "Rae Recorder was first" in response.content.decode()


@pytest.mark.parametrize(
    ("zone", "day"), [("America/Chicago", "9999-12-31"), ("Asia/Tokyo", "0001-01-01")]
)
def test_a_day_at_the_end_of_all_calendars_is_refused_at_its_field(
    client, order, technician, zone, day
):
    Task.objects.update(time_zone=zone)
    client.force_login(technician)
    data = {"seen": order.turn, "day": day, "begins": "08:30", "ends": "23:00"}
    response = client.post(step(order, "book"), data)
    assert response.status_code == 200
    assert "day" in response.context["form"].errors
    several = {"task": order.pk, "action": "book", "sent": "1", "day": day, "begins": "08:30"}
    make_crew(order.assigned_to)
    response = client.post(SEVERAL, several | {"hours": "3", "crew": Crew.objects.get().pk})
    assert "day" in response.context["form"].errors


def test_booking_is_read_on_the_clock_of_the_site(client, order, technician):
    order.system.site.time_zone = "America/Chicago"
    order.system.site.save()
    Task.objects.update(time_zone="America/Chicago")
    order.refresh_from_db()
    day = (order.due_at - timedelta(days=2)).astimezone(order.zone).date()
    client.force_login(technician)
    data = {"seen": order.turn, "day": day.isoformat(), "begins": "08:30", "ends": "11:00"}
    assert client.post(step(order, "book"), data).status_code == 302
    order.refresh_from_db()
    assert f"{order.starts_at.astimezone(order.zone):%H:%M}" == "08:30"


def test_a_refused_booking_keeps_what_was_typed(client, order, technician):
    client.force_login(technician)
    data = {"seen": order.turn, "day": "2020-01-01", "begins": "08:30", "ends": "11:00"}
    html = client.post(step(order, "book"), data).content.decode()
    assert "This has passed" in html
    assert 'value="2020-01-01"' in html


def test_the_hour_that_the_clocks_leave_out_is_refused(client, order, technician):
    client.force_login(technician)
    data = {"seen": order.turn, "day": "2027-03-28", "begins": "01:30", "ends": "11:00"}
    assert "has no such hour" in client.post(step(order, "book"), data).content.decode()


def test_a_step_says_in_the_words_of_the_book_what_is_missing(client, order, world):
    client.force_login(world.technician)
    declined = client.post(step(order, "decline"), {"seen": order.turn}).content.decode()
    assert "Nothing is written here yet." in declined
    assert "This field is required" not in declined


def test_only_one_of_the_buttons_on_an_order_is_the_first(client, order, world):
    client.force_login(world.technician)
    _, _, main = client.get(order.get_absolute_url()).content.decode().partition("<main")
    assert main.count("<button>") + main.count('class="button"') == 1


def test_a_declined_order_shows_its_reason_to_the_owner_who_hands_it_on(client, order, world):
    client.force_login(world.technician)
    client.post(step(order, "decline"), {"seen": order.turn, "reason": "No lift truck"})
    client.force_login(world.owner)
    work = client.get(reverse("scheduling:work"), {"stands": "refused"}).content.decode()
    assert "NQ-101" in work and "No lift truck" in work
    order.refresh_from_db()
    address = reverse("scheduling:task-hand-over", args=[order.pk])
    assert "No lift truck" in client.get(address).content.decode()
    client.post(address, {"seen": order.turn, "party": world.contractor.pk, "reason": "Hire one"})
    order.refresh_from_db()
    assert (order.work_state, order.assigned_to) == ("offered", world.contractor)


def test_the_owner_gets_no_buttons_for_work_that_the_contractor_has(client, order, owner):
    client.force_login(owner)
    html = client.get(order.get_absolute_url()).content.decode()
    assert step(order, "accept") not in html
    assert "Hand it over" in html
    assert client.post(step(order, "accept"), {"seen": order.turn}).status_code == 403


def test_an_unknown_step_is_no_page(client, order, technician):
    client.force_login(technician)
    assert client.get(step(order, "dance")).status_code == 404


def test_several_are_accepted_at_once_and_what_cannot_be_is_named(client, world, order, now):
    other = make_order(make_system(world.site, world.owner, tag="NQ-102"), now=now)
    client.force_login(world.technician)
    client.post(step(other, "accept"), {"seen": other.turn})
    data = {"task": [order.pk, other.pk], "action": "accept"}
    html = client.post(SEVERAL, data, follow=True).content.decode()
    assert "Accepted: NQ-101." in html
    assert "Re-inerting order, NQ-102: It is accepted" in html


def test_several_are_booked_one_after_another(client, world, order, now):
    shed = make_building(world.site)
    other = make_order(make_system(world.site, world.owner, tag="NQ-102", building=shed), now=now)
    crew = make_crew(world.contractor, hours="Mon-Sun 8-18")
    client.force_login(world.technician)
    data = {"task": [order.pk, other.pk], "action": "book"}
    assert "Hours for each" in client.post(SEVERAL, data).content.decode()
    day = (now + timedelta(days=2)).date().isoformat()
    data |= {"sent": "1", "crew": crew.pk, "day": day, "begins": "08:00", "hours": "2.5"}
    client.post(SEVERAL, data)
    first, second = Task.objects.booked().order_by("starts_at")
    assert second.starts_at == first.ends_at == first.starts_at + timedelta(hours=2.5)


def test_work_of_others_is_left_out_of_what_is_done_at_once(client, order, world):
    client.force_login(world.owner)
    html = client.post(SEVERAL, {"task": [order.pk], "action": "accept"}, follow=True)
    assert "Tick follow-ups that your organisation has" in html.content.decode()
    order.refresh_from_db()
    assert order.work_state == "offered"


def test_a_manager_of_the_contractor_sets_up_a_crew(client, world):
    manager = make_user(world.contractor, "manager", "Mo Dispatcher")
    client.force_login(manager)
    address = reverse("scheduling:crew-new", args=[world.contractor.pk])
    data = {"name": "Van 3", "people": [world.technician.pk], "is_active": "on"}
    assert client.post(address, data).status_code == 302
    assert list(Crew.objects.get().people.all()) == [world.technician]
    assert "Van 3 already" in client.post(address, data).content.decode()
    data["people"] = [world.owner.pk]
    data["name"] = "Van 4"
    assert client.post(address, data).status_code == 200
    assert Crew.objects.count() == 1
    assert "Van 3" in client.get(reverse("scheduling:crews")).content.decode()


def test_a_comment_lands_on_the_trail(client, order, technician):
    client.force_login(technician)
    client.post(reverse("scheduling:task-comment", args=[order.pk]), {"text": "Key at the gate"})
    assert "Key at the gate" in client.get(order.get_absolute_url()).content.decode()


def test_an_order_says_where_a_wall_reading_tells_most(client, order, system, technician, now):
    client.force_login(technician)
    make_pipe_run(system, installed_on=date(1985, 1, 1), role="branch_line", nominal_size="1-1/4")
    place = place_worth_measuring(system, now)
    assert place is not None and place.point.worth >= LEAST_WORTH
    html = one_line(client.get(order.get_absolute_url()))
    at = html.index('id="measure"')
    said = html[at : html.index("</section>", at)]
    assert f"<strong>{place.run}</strong>, at {place.clock} o'clock" in said
    assert f"worth {model_number(place.point.worth)} points" in said


def test_an_order_of_a_system_without_pipe_names_no_place(client, system, technician, now):
    bare = make_system(system.site)
    order = make_order(bare, now=now)
    client.force_login(technician)
    assert place_worth_measuring(bare, now) is None
    assert 'id="measure"' not in client.get(order.get_absolute_url()).content.decode()
