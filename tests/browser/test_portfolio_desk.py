"""The portfolio as a desk: how much of it fits a screen, and what is kept, done and taken away."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import SavedView, System
from registry.services.assessments import assess_systems
from scheduling.models import Task
from tests.browser.conftest import PHONE
from tests.factories import make_pipe_run, make_system

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ROWS, LINES_PX = 20, 64


@pytest.fixture
def book(world):
    """A screenful of aerated systems, assessed, at one site."""
    then = timezone.now() - timedelta(days=400)
    for number in range(ROWS):
        system = make_system(world.site, world.owner, tag=f"NQ-{number:03d}", now=then)
        make_pipe_run(system, world.owner, now=then)
    assess_systems(System.objects.all(), timezone.now())
    return world


@pytest.fixture
def desk(open_page, book):
    page = open_page(book.owner, size=(1280, 800))
    page.goto(reverse("reports:portfolio"))
    return page


def bottoms(page) -> list[float]:
    rows = page.locator(".book tbody tr")
    return rows.evaluate_all("rows => rows.map(row => row.getBoundingClientRect().bottom)")


def test_fourteen_rows_and_the_head_stand_on_one_screen(desk):
    assert sum(bottom <= 800 for bottom in bottoms(desk)) >= 14
    assert desk.locator(".book thead").bounding_box()["y"] < 800 / 3


def test_fourteen_rows_stand_there_with_the_longest_answers_too(desk, book):
    """A second visit, on which causes of change fill their lines."""
    desk.evaluate(
        "document.querySelectorAll('.four .s').forEach(p => p.textContent = 'word '.repeat(14))"
    )
    assert sum(bottom <= 800 for bottom in bottoms(desk)) >= 14


def test_a_system_takes_two_lines_on_a_phone(open_page, book):
    page = open_page(book.owner, size=PHONE)
    page.goto(reverse("reports:portfolio"))
    heights = page.locator(".book tbody tr").evaluate_all(
        "rows => rows.map(row => row.getBoundingClientRect().height)"
    )
    assert len(heights) == ROWS
    assert max(heights) <= LINES_PX
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]


def test_a_view_is_kept_under_a_name_found_again_and_removed(desk):
    desk.goto(reverse("reports:portfolio") + "?state=aerated&sort=tag")
    desk.get_by_role("button", name="Save this view").click()
    desk.locator("#save-view [name=name]").fill("Air first")
    desk.get_by_role("button", name="Save the view").click()
    desk.get_by_text("Saved as").wait_for()
    desk.goto(reverse("reports:portfolio"))
    desk.locator(".views").get_by_role("link", name="Air first").click()
    assert "state=aerated" in desk.url and "sort=tag" in desk.url
    desk.get_by_role("button", name="Save this view").click()
    desk.get_by_role("button", name="Remove “Air first”").click()
    desk.get_by_text("is gone").wait_for()
    assert not SavedView.objects.exists()


def test_inerting_is_ordered_for_what_is_ticked_and_for_nothing_else(desk):
    desk.goto(reverse("reports:portfolio") + "?several=none&sort=tag")
    for tag in ("NQ-003", "NQ-007"):
        desk.get_by_role("checkbox", name=tag).check()
    desk.get_by_role("button", name="Order inerting").click()
    desk.locator("main form button[type=submit], main form button:not([type])").last.click()
    desk.wait_for_load_state()
    ordered = Task.objects.open().filter(kind="reinerting_order")
    assert sorted(ordered.values_list("system__tag", flat=True)) == ["NQ-003", "NQ-007"]


def test_the_plain_file_holds_what_is_filtered(desk):
    desk.goto(reverse("reports:portfolio") + "?text=NQ-004")
    with desk.expect_download() as started:
        desk.get_by_role("link", name="CSV", exact=True).click()
    text = started.value.path().read_text(encoding="utf-8-sig")
    assert "NQ-004" in text
    assert "NQ-005" not in text


def test_the_report_is_of_what_is_filtered(desk):
    desk.goto(reverse("reports:portfolio") + "?text=NQ-004")
    desk.get_by_role("link", name="Report of these").click()
    desk.wait_for_load_state()
    words = desk.locator("main").inner_text()
    assert "NQ-004" in words
    assert "NQ-005" not in words


def test_a_touch_opens_the_palette_and_leads_to_a_system(open_page, book):
    page = open_page(book.owner, size=PHONE)
    page.goto(reverse("reports:portfolio"))
    page.locator(".menu-button").tap()
    page.get_by_role("link", name="Find", exact=True).tap()
    page.locator("#palette-words").fill("nq-011")
    page.locator("#palette-found").get_by_role("link", name="NQ-011").first.tap()
    page.wait_for_url(f"**{System.objects.get(tag='NQ-011').get_absolute_url()}")
