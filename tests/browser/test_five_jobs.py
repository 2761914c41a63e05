"""The five usual jobs from the portfolio, with their clicks counted: 0, 2, 3, 3 and 2 at most."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import System
from registry.services.assessments import assess_systems
from scheduling.models import Occurrence, Task
from tests.factories import make_pipe_run, make_system
from tests.scheduling.recurring_world import adopt

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def desk(open_page, world):
    """The portfolio of a manager with one assessed system, and a counter of clicks."""
    then = timezone.now() - timedelta(days=400)
    system = make_system(world.site, world.owner, tag="NQ-101", now=then)
    make_pipe_run(system, world.owner, now=then)
    adopt(world.site, world.owner, now=then)
    assess_systems(System.objects.all(), timezone.now())
    page = open_page(world.owner, size=(1280, 800))
    page.system, page.clicks = system, 0
    page.goto(reverse("reports:portfolio"))

    def press(locator):
        page.clicks += 1
        locator.click()

    page.press_ = press
    return page


def test_the_worst_is_named_without_a_click_and_the_table_begins_in_the_upper_third(desk):
    assert "NQ-101" in desk.locator(".four section").first.inner_text()
    assert desk.locator(".book thead").bounding_box()["y"] < 800 / 3
    assert desk.locator(".book tbody tr").first.bounding_box()["height"] <= 41
    assert desk.clicks == 0


def test_inerting_is_ordered_in_two(desk):
    desk.press_(desk.locator(".four").get_by_role("link", name="Order inerting"))
    desk.press_(desk.get_by_role("button", name="Order it"))
    desk.get_by_text("is ordered from").wait_for()
    assert Task.objects.open().filter(system=desk.system, kind="reinerting_order").exists()
    assert desk.clicks <= 2


def test_a_leak_is_logged_in_three(desk):
    desk.press_(desk.locator(".book").get_by_role("link", name="NQ-101"))
    desk.press_(desk.get_by_role("link", name="Log a leak"))
    assert desk.url.endswith("/event.leak/")
    assert desk.get_by_role("button", name="Record").first.is_visible()
    assert desk.clicks + 1 <= 3  # the third sends the form, once its questions are answered


def test_an_inspection_is_logged_in_three(desk):
    row = Occurrence.objects.open().filter(system=desk.system).order_by("late_at").first()
    desk.press_(desk.locator(".book .la a").first)
    assert desk.url.endswith(row.get_absolute_url())
    assert desk.locator("form.entry button[type=submit]").first.is_visible()
    assert desk.clicks + 1 <= 3  # the third sends what was found


def test_the_file_of_what_is_filtered_takes_two(desk):
    desk.press_(desk.locator(".t-strip").get_by_role("link", name="aerated"))
    with desk.expect_download() as started:
        desk.press_(desk.get_by_role("link", name="Spreadsheet"))
    assert started.value.suggested_filename.endswith(".xlsx")
    assert desk.clicks <= 2


def test_any_system_is_three_strokes_and_its_name_away(desk):
    desk.keyboard.press("/")
    desk.keyboard.type("nq-101")
    desk.keyboard.press("Enter")
    desk.wait_for_url(f"**{desk.system.get_absolute_url()}")
