"""A chart is drawn by the server and answers the pointer once it is asked to."""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from registry.services.assessments import assess_system
from tests.factories import make_pipe_run, make_record, make_system

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK = (390, 844), (1280, 900)
BUNDLE = "reports/vega.js"
INK = {"light": "rgb(27, 36, 48)", "dark": "rgb(232, 230, 225)"}


@pytest.fixture(scope="session", autouse=True)
def bundle():
    call_command("build_chart_bundle", verbosity=0)


@pytest.fixture
def risky(world):
    now = timezone.now()
    entered = now - timedelta(days=1500)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-101")
    make_pipe_run(system, world.owner, now=entered)
    make_record(
        system, "reading.wall", now - timedelta(days=200), world.owner, now=now,
        wall_mm=2.4, run_role="cross_main", nominal_size="4",
    )  # fmt: skip
    assess_system(system, now)
    return reverse("reports:risk", args=[system.pk])


def asked_for(page) -> list[str]:
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    return asked


def wall_chart(page):
    return page.locator("figure[data-chart]").first


def read_values(page):
    """The chart of the wall after it was asked to be read."""
    chart = wall_chart(page)
    chart.get_by_role("button", name="Read values").click()
    chart.get_by_text("Point at the picture").wait_for()
    return chart.locator(".drawn:visible")


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_chart_asked_to_be_read_says_the_values_under_the_pointer(open_page, world, risky, size):
    page = open_page(world.viewer, size=size)
    page.goto(risky)
    drawn = read_values(page)
    assert drawn.locator("svg.marks").count() == 1
    drawn.locator(".columns_marks path, .columns_marks line").nth(40).hover(force=True)
    said = page.locator("#chart-values.visible").inner_text()
    assert re.search(r"Year\s+\d{4}", said)
    assert re.search(r"Median\s+\d\.\d{3} in", said)


def test_a_wall_reading_says_itself(open_page, world, risky):
    page = open_page(world.viewer)
    page.goto(risky)
    read_values(page).locator(".mark-symbol path").first.hover(force=True)
    said = page.locator("#chart-values.visible").inner_text()
    assert re.search(r"Wall reading\s+\d{4}", said) and re.search(r"Lost\s+\d\.\d{3} in", said)


def test_the_program_of_the_charts_is_fetched_only_when_one_is_pointed_at(open_page, world, risky):
    page = open_page(world.viewer)
    asked = asked_for(page)
    page.goto(risky)
    page.wait_for_load_state("networkidle")
    assert not any(BUNDLE in url for url in asked)
    wall_chart(page).locator("[data-drawing]:visible").hover()
    wall_chart(page).get_by_text("Point at the picture").wait_for()
    assert sum(BUNDLE in url for url in asked) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_chart_that_is_read_follows_the_theme(open_page, world, risky, scheme):
    page = open_page(world.viewer, scheme=scheme)
    page.goto(risky)
    words = read_values(page).get_by_text("median")
    assert words.evaluate("text => getComputedStyle(text).fill") == INK[scheme]


def test_reading_a_chart_moves_the_page_by_less_than_half_a_line(open_page, world, risky):
    page = open_page(world.viewer)
    page.goto(risky)
    drawing = wall_chart(page).locator(".drawn:visible")
    before = drawing.bounding_box()
    after = read_values(page).bounding_box()
    assert abs(after["height"] - before["height"]) < 12
    assert after["width"] == before["width"]


def test_without_the_program_the_drawing_and_the_table_stay(open_page, world, risky):
    page = open_page(world.viewer)
    page.route(f"**/{BUNDLE}", lambda route: route.abort())
    page.goto(risky)
    chart = wall_chart(page)
    chart.get_by_role("button", name="Read values").click()
    chart.get_by_text("cannot be read").wait_for()
    assert chart.locator(".drawn:visible svg").count() == 1
    chart.get_by_text("The numbers of this picture").click()
    assert chart.get_by_role("table").is_visible()
    assert chart.get_by_role("button", name="Read values").is_visible()
