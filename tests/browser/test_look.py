"""What the style sheet promises, measured in Chromium at both widths, by day and by night."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import System
from registry.services.assessments import assess_systems
from tests.browser.axe import Looks, violations
from tests.factories import make_building, make_pipe_run, make_record, make_system
from tests.test_access import ADDRESSES, MEANING, OK
from tests.world_objects import make_objects

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK = (390, 844), (1280, 900)
NOT_PAGES = {  # sign-in leads on who is signed in, and has a test of its own
    "account_login", "registry:echo", "registry:run-worker", "registry:import-bad-rows",
    "registry:run-gas",
    "registry:health", "registry:ready", "registry:metrics",
    "scheduling:feed", "reports:ledger-csv", "reports:audit-csv",
    "reports:register-csv", "reports:register-xlsx", "reports:certificate",
    "reports:portfolio-csv", "reports:portfolio-xlsx",
    "reports:risk-pdf", "scheduling:attachment", "registry:attachment", "scheduling:heads",
    "reports:package-file", "reports:checkpoint", "reports:certificate-proof",
    "reports:shared-file", "reports:risk-case", "reports:risk-changed",
    "registry:phone", "scheduling:day-pages", "mfa_download_recovery_codes",
    "mfa_authenticate", "mfa_login_webauthn", "account_signup", "account_inactive",
    "account_reset_password", "account_reset_password_done", "account_reset_password_from_key",
    "account_reset_password_from_key_done", "socialaccount_login_cancelled",
    "reports:portfolio-report-pdf", "reports:site-report-pdf", "reports:visit-pdf",
    "reports:kept-file", "reports:labels", "reports:hand-over", "reports:order-sheet",
    "reports:day-sheets",
}  # fmt: skip
READERS = ("owner", "technician")  # between them they see every page but those of a crew


def pages_of(person: str) -> list[str]:
    """The pages that this reader sees and none before."""
    before = READERS[: READERS.index(person)]
    return [
        name
        for name, methods in ADDRESSES.items()
        if name not in NOT_PAGES
        and "get" in methods
        and MEANING[methods["get"]][person] == OK
        and all(MEANING[methods["get"]][other] != OK for other in before)
    ]


def open_view(open_page, world, name, **how):
    page = open_page(world.owner, **how)
    page.goto(reverse(name))
    return page


@pytest.mark.parametrize("person", READERS)
def test_every_page_breaks_no_rule_of_wcag_by_day_and_by_night_and_fits_every_width(
    open_page, world, person
):
    """Each page is opened once on a phone by night, then given the room and the light of day."""
    objects, broken, phone, desk = make_objects(world), {}, Looks(), Looks()
    page = open_page(getattr(world, person), size=PHONE, scheme="dark")
    for name in pages_of(person):
        page.emulate_media(color_scheme="dark")
        answer = page.goto(reverse(name, kwargs=objects.get(name)))
        assert answer.status == 200, name
        assert reverse("account_login") not in page.url, name
        ids = page.evaluate("[...document.querySelectorAll('[id]')].map((e) => e.id)")
        assert len(ids) == len(set(ids)), name
        broken[name, "phone"] = phone.violations(page)
        for width in (768, 1024, DESK[0]):
            page.set_viewport_size({"width": width, "height": DESK[1]})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (name, width)
        page.emulate_media(color_scheme="light")
        broken[name, "desk"] = desk.violations_of_looks(page)
        page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0], name
    assert {where: found for where, found in broken.items() if found} == {}


AT_THE_DOOR = (
    "account_login", "account_signup", "account_inactive", "account_reset_password",
    "account_reset_password_done", "account_reset_password_from_key",
    "account_reset_password_from_key_done", "socialaccount_login_cancelled",
)  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_at_the_door_break_no_rule_either(open_page, scheme):
    page = open_page(size=PHONE, scheme=scheme)
    for name in AT_THE_DOOR:
        given = {"uidb36": "1", "key": "not-a-key"} if name.endswith("from_key") else None
        page.goto(reverse(name, kwargs=given))
        assert violations(page) == {}, name
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0], name


def test_the_portfolio_fits_screens_between_a_tablet_and_a_wall(open_page, world):
    """A row as wide as they come: late work, a long building, a life beyond the horizon."""
    deck = make_building(world.site, "Vehicle Deck Park")
    system = make_system(
        world.site, world.owner, kind="preaction", gas_supply="generator", building=deck
    )
    make_pipe_run(system, world.owner)
    then = timezone.now() - timedelta(days=60)
    lost = {"to_gauge_pa": 0.0, "air_entered": "yes"}
    make_record(system, "event.gas_loss", then, world.owner, now=then, **lost)
    assess_systems(System.objects.all(), timezone.now())
    page = open_page(world.owner)
    page.goto(reverse("reports:portfolio") + "?columns=last_event")
    page.set_viewport_size({"width": 1800, "height": 800})
    page.get_by_role("link", name="Loss of gas pressure").wait_for()  # its column needs a wall
    for width in (900, 1023, 1024, 1150, 1151, 1279, 1280, 1799, 1800):
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width


def test_the_first_key_leads_past_the_navigation(open_page, world):
    page = open_view(open_page, world, "registry:account")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_buttons_and_links_of_the_frame_are_big_enough_to_tap(open_page, world):
    """WCAG 2.2 asks 24 px (2.5.8); the book promises 44."""
    page = open_view(open_page, world, "registry:account", size=PHONE)
    page.get_by_role("button", name="Menu").click()
    for control in page.locator("button, .button, .wordmark, .who a, .nav a").all():
        if control.is_hidden():
            continue
        assert control.bounding_box()["height"] >= 43.5


def test_on_a_phone_the_frame_is_one_row_and_says_where_one_is(open_page, world):
    page = open_view(open_page, world, "registry:import-new", size=PHONE)
    assert page.locator("header").bounding_box()["height"] < 60
    menu = page.get_by_role("button", name="Menu of the book, now at Import")
    assert not page.get_by_role("link", name="My work").is_visible()
    menu.focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent.trim()") == "Portfolio"
    page.keyboard.press("Escape")
    assert not page.get_by_role("link", name="My work").is_visible()


def test_a_wrong_password_takes_the_reader_to_what_went_wrong(open_page, world):
    page = open_page(size=PHONE)
    page.goto(reverse("account_login"))
    page.get_by_label("E-mail address").fill(world.owner.email)
    page.get_by_label("Password").fill("not-it")
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_text("Not signed in").wait_for()
    assert page.evaluate("document.activeElement.className") == "error-summary"
    assert page.get_by_label("E-mail address").input_value() == world.owner.email


def test_print_leaves_out_what_paper_cannot_do(open_page, world):
    page = open_view(open_page, world, "registry:account")
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="Save").is_visible()
    assert page.get_by_role("heading", name="What you may do").is_visible()


def test_the_echo_follows_the_typing_and_names_another_unit(open_page, world):
    page = open_page(world.owner)
    page.goto(reverse("registry:system-new", args=[world.site.pk]))
    field = page.get_by_label("Rated working pressure")
    field.fill("12 bar")
    page.get_by_text("= 174 psi gauge").wait_for()
    field.fill("12 barn")
    page.locator("#id_rated_pressure_gauge_pa_echo:empty").wait_for(state="attached")


def test_a_table_sorts_in_place_and_keeps_its_address(open_page, world, system):
    page = open_page(world.owner)
    page.goto(reverse("reports:portfolio"))
    page.get_by_role("link", name="System", exact=True).click()
    page.locator("th[aria-sort=ascending]", has_text="System").wait_for()
    assert "sort=" in page.url
    page.get_by_role("link", name="System", exact=True).click()
    page.locator("th[aria-sort=descending]", has_text="System").wait_for()
