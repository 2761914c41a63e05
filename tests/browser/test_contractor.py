"""A contractor's order in a browser: booked, moved, declined, offered again, carried out; the owner
sees each change, and so does a calendar."""

from datetime import UTC, date, datetime, time, timedelta
from io import BytesIO

import pytest
import vobject
from django.utils import timezone
from pypdf import PdfReader

from scheduling.models import Task
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_main_job import run_to_the_end
from tests.factories import make_building, make_system
from tests.scheduling.orders_world import book, make_crew, make_order

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def order(system, now):
    return make_order(system, now=now)


@pytest.fixture
def crew(world):
    return make_crew(world.contractor, "Van 1", world.technician)


@pytest.fixture
def day(order, now) -> date:
    return (now + timedelta(days=2)).astimezone(order.zone).date()


def make_feed(page, base_url) -> str:
    page.goto("/feeds/")
    page.get_by_label("Name").fill("Our work")
    page.get_by_label("What one contractor has to do").check()
    page.get_by_label("Contractor", exact=False).last.select_option(index=1)
    page.get_by_label("Alarm").select_option("hour")
    page.get_by_role("button", name="Make the address").click()
    address = page.get_by_label("Address of the feed").input_value()
    return base_url + "/feed/" + address.rpartition("/feed/")[2]


def entry(page, address):
    """The order's entry in the feed, or None."""
    calendar = vobject.readOne(page.request.get(address).text())
    entries = getattr(calendar, "vevent_list", [])
    found = [each for each in entries if "Re-inerting order, NQ-101" in each.summary.value]
    return found[0] if found else None


def fill_times(page, day, begins, ends):
    page.get_by_label("Day", exact=True).fill(day.isoformat())
    page.get_by_label("Begins").fill(begins)
    page.get_by_label("Ends").fill(ends)


def cell(page, day):
    return page.locator(f"td[data-day='{day.isoformat()}']")


def another_day(page, day):
    """The next day, or the one before where the sheet ends."""
    later = day + timedelta(days=1)
    return later if cell(page, later).count() else day - timedelta(days=1)


def starts_at(task, day, hour) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=task.zone).astimezone(UTC)


def test_an_order_is_booked_moved_declined_offered_again_and_carried_out(
    world, open_page, live_server, order, crew, day, system
):
    van = open_page(world.technician)
    desk = open_page(world.owner)
    address = make_feed(van, live_server.url)
    planned = entry(van, address)

    van.goto("/work/")
    van.get_by_role("link", name="Re-inerting order").first.click()
    van.get_by_role("link", name="Book a time").click()
    fill_times(van, day, "08:00", "11:00")
    van.get_by_label("Crew").select_option(label="Van 1")
    van.get_by_role("button", name="Book a time").click()
    van.get_by_text("Booked.").wait_for()
    booked = entry(van, address)
    assert booked.uid.value == planned.uid.value
    assert int(booked.sequence.value) == int(planned.sequence.value) + 1
    assert booked.dtstart.value == starts_at(order, day, 8)

    van.goto(f"/month/?on={day.isoformat()}")
    new_day = another_day(van, day)
    cell(van, day).locator("li").drag_to(cell(van, new_day))
    van.get_by_text("Moved.").wait_for()
    assert cell(van, new_day).get_by_role("link", name="NQ-101").first.is_visible()
    moved = entry(van, address)
    assert int(moved.sequence.value) == int(booked.sequence.value) + 1
    assert moved.dtstart.value == starts_at(order, new_day, 8)

    van.get_by_role("link", name="Move Re-inerting order").focus()
    van.keyboard.press("Enter")
    fill_times(van, new_day, "13:00", "16:00")
    van.get_by_role("button", name="Move it").press("Enter")
    van.get_by_text("Moved.").wait_for()
    assert entry(van, address).dtstart.value == starts_at(order, new_day, 13)

    desk.goto(order.get_absolute_url())
    trail = desk.locator("section[aria-labelledby=trail]").inner_text()
    assert trail.count("Moved") == 2
    assert "crew Van 1" in trail and "Tam Technician" in trail

    van.goto(order.get_absolute_url())
    van.get_by_role("link", name="Decline").click()
    van.get_by_label("Why").fill("The lift truck broke down")
    van.get_by_role("button", name="Decline").click()
    van.get_by_text("it is back with the owner").wait_for()
    assert entry(van, address) is None

    desk.goto("/work/?stands=refused")
    desk.get_by_text("The lift truck broke down").wait_for()
    desk.get_by_role("link", name="Re-inerting order").click()
    desk.get_by_role("link", name="Hand it over").click()
    desk.get_by_label("Who is to do it").select_option(label="Pellmoor Fire Protection")
    desk.get_by_role("button", name="Offer it").click()
    desk.get_by_text("Offered to Pellmoor Fire Protection").wait_for()
    assert entry(van, address).uid.value == planned.uid.value

    phone = open_page(world.technician, size=PHONE)
    phone.goto(order.get_absolute_url())
    phone.get_by_role("button", name="Accept").click()
    phone.get_by_text("Accepted.").wait_for()
    phone.get_by_role("button", name="Begin").click()
    phone.get_by_text("Under way", exact=True).first.wait_for()
    run_to_the_end(phone, system)

    desk.goto(order.get_absolute_url())
    desk.get_by_text("Done", exact=True).first.wait_for()
    assert desk.locator("section[aria-labelledby=trail]").inner_text().count("Done") == 1
    assert entry(van, address).summary.value == "Done: Re-inerting order, NQ-101"


def test_a_drop_on_another_crew_says_when_it_fits_there_and_moves_it(
    world, open_page, order, crew, day, now
):
    crew.hours = "Mon-Sun 7-19"
    crew.save()
    second = make_crew(world.contractor, "Van 2", hours="Mon-Sun 7-19")
    shed = make_building(world.site)
    system = make_system(world.site, world.owner, tag="NQ-102", building=shed)
    other = make_order(system, now=now)
    book(order, world.technician, starts_at(order, day, 8), now=now, crew=crew)
    book(other, world.technician, starts_at(order, day, 9), now=now, crew=second)
    page = open_page(world.technician)
    page.goto(f"/week/?on={day.isoformat()}")
    of_van_1 = page.locator(f"td[data-crew='{crew.pk}'][data-day='{day.isoformat()}']")
    of_van_2 = page.locator(f"td[data-crew='{second.pk}'][data-day='{day.isoformat()}']")
    of_van_2.locator("li.job").drag_to(of_van_1)
    page.get_by_text("Van 1 could begin on").wait_for()
    other.refresh_from_db()
    assert other.crew == second
    assert not violations(page)
    page.get_by_role("button", name="Move it").press("Enter")
    page.get_by_text("Re-inerting order: Van 1").wait_for()
    assert of_van_1.locator("li.job").count() == 2 and of_van_2.locator("li.job").count() == 0
    assert not violations(page)


def test_two_people_on_the_same_page_do_not_both_win(world, open_page, order):
    first, late = open_page(world.technician), open_page(world.technician)
    for page in (first, late):
        page.goto(order.get_absolute_url())
    first.get_by_role("button", name="Accept").click()
    first.get_by_text("Accepted.").wait_for()
    late.get_by_role("button", name="Accept").click()
    late.get_by_text("Tam Technician was first").first.wait_for()
    assert Task.objects.get(pk=order.pk).trail.filter(what="accepted").count() == 1


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (DESK, "dark")])
def test_pages_of_the_day_fit_and_are_accessible(
    world, open_page, order, crew, day, now, size, scheme
):
    """The pages with a booking on them, as no other test opens them."""
    book(order, world.technician, starts_at(order, day, 8), now=now, crew=crew)
    page = open_page(world.technician, size=size, scheme=scheme)
    days = [f"/{name}/?on={day.isoformat()}" for name in ("day", "week", "month")]
    for path in [*days, "/work/", order.get_absolute_url(), "/crews/"]:
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], path
        assert violations(page) == {}, path


def test_the_days_list_prints_on_one_sheet(world, open_page, order, crew, day, now):
    tags = ["NQ-102", "NQ-103", "NQ-104"]
    others = [make_order(make_system(world.site, world.owner, tag=tag), now=now) for tag in tags]
    for number, one in enumerate([order, *others]):
        book(one, world.technician, starts_at(order, day, 7 + 3 * number), now=now, crew=crew)
    page = open_page(world.technician)
    page.goto(f"/day/?on={day.isoformat()}")
    pages = PdfReader(BytesIO(page.pdf(format="A4"))).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    assert all(tag in text for tag in ("NQ-101", *tags))
    assert "Draining takes" in text and "This book does not decide" in text
