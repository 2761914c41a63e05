"""A dispatcher's week in a browser: planned by a job, shown as it comes, booked in part."""

from datetime import timedelta

import pytest
from django.utils import timezone

from scheduling.jobs.kinds import CREW_PLAN
from scheduling.models import Task
from tests.browser.axe import violations
from tests.browser.conftest import PHONE
from tests.jobs import run_waiting
from tests.scheduling.orders_world import make_crew
from tests.scheduling.planning_world import make_depot, order_at, takes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def monday(world):
    now = timezone.now()
    takes(world.contractor, 60)
    depot = make_depot(world.contractor)
    for name in ("Van 1", "Van 2"):
        make_crew(
            world.contractor, name, world.technician, hours="Mon-Fri 8-17", cylinder_places=6,
            depot=depot,
        )  # fmt: skip
    for number in range(5):
        order_at(world, f"SK-{number}", north_km=3 * number, now=now)
    order_at(world, "SK-9", north_km=3, hours="20-22", now=now)
    return now.date() + timedelta(days=7 - now.weekday())


def is_wider(page) -> bool:
    root = "document.documentElement"
    return page.evaluate(f"{root}.scrollWidth > {root}.clientWidth")


def test_a_week_is_planned_and_booked_but_for_one(world, open_page, monday):
    page = open_page(world.technician)
    page.goto(f"/week/?on={monday.isoformat()}")
    assert not violations(page)
    page.get_by_role("button", name="Plan the week").click()
    page.get_by_text("Planning is under way.").wait_for()
    run_waiting(CREW_PLAN)
    page.get_by_text("Not placed, 1").wait_for()  # the page looks again by itself
    assert page.locator("li.job.proposed").count() == 5
    page.get_by_text("No crew can do it on any day of the plan.").wait_for()
    assert not violations(page)
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert not violations(page) and not is_wider(page)
    page.get_by_label("Book Re-inerting order, SK-2").uncheck()
    page.get_by_role("button", name="Book the ticked jobs").press("Enter")
    page.get_by_text("4 jobs are booked.").wait_for()
    assert page.locator("li.job.booked").count() == 4
    assert Task.objects.booked().count() == 4
    assert not Task.objects.booked().filter(system__tag="SK-2").exists()
    page.get_by_role("button", name="Throw this plan away").click()
    page.get_by_text("nothing was booked by it").wait_for()
    assert page.locator("li.job.proposed").count() == 0 and Task.objects.booked().count() == 4


def test_what_plans_rest_on_is_read_and_changed_without_the_admin(world, open_page, monday):
    page = open_page(world.technician)
    page.goto("/planning/")
    assert not violations(page)
    page.get_by_role("link", name="Site of SK-9").click()
    page.get_by_label("Hours of access").fill("9-11")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Mon-Sun 09:00-11:00").wait_for()
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert not violations(page) and not is_wider(page)
