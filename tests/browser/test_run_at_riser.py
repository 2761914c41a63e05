"""A run on a phone: what it costs in taps and keys, where the focus goes, what is said aloud."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import Attachment, InertingRun, OwnerPolicy, Record
from registry.quantities import PSI
from registry.runs.planning import opening_answers, plan_for_system
from registry.services.runs import start_run
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_run_offline import heading, is_sent, kinds, log, ready, waits
from tests.registry.test_photos import JPEG

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MOST_TAPS, MOST_CHARACTERS = 17, 12


def begin(system, technician, **facts):
    answers = opening_answers(system, oxygen=None)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    return start_run(
        system=system, plan=plan_for_system(system, answers), opened_by=technician,
        opened_at=timezone.now() - timedelta(hours=2), analyser="Meter 7", **facts,
    )  # fmt: skip


@pytest.fixture
def run(system, technician):
    run = begin(system, technician)
    log(run, technician, "checked", air_o2_percent=20.9)
    return run


@pytest.fixture
def phone(open_page, run, technician):
    page = open_page(technician, size=PHONE)
    page.goto(run.get_absolute_url())
    ready(page)
    return page


class Hand:
    """Taps and types, and counts both. A field that has the focus already needs no tap."""

    def __init__(self, page):
        self.page, self.taps, self.characters = page, 0, 0

    def tap(self, name):
        self.taps += 1
        self.page.get_by_role("button", name=name).click()

    def write(self, name, text):
        has_focus = f"document.activeElement.name === '{name}'"
        if not self.page.evaluate(has_focus):
            self.taps += 1
            self.page.locator(f"#step [name={name}]").click()
        self.characters += len(text)
        self.page.keyboard.type(text)


def test_three_fills_cost_no_more_than_17_taps_and_12_characters(phone, run):
    hand = Hand(phone)
    for fill, n2_percent in enumerate(("92.9", "97.6", "99.2"), start=1):
        hand.tap("Pressure reached")
        heading(phone, f"Fill {fill}: what does the vent read")
        hand.write("n2_percent", n2_percent)
        hand.tap("Log the reading")
        if fill < 3:
            heading(phone, f"Fill {fill}: purged to zero")
            hand.tap(re.compile("the gauge reads zero"))
            heading(phone, f"Fill {fill + 1}: is the pressure reached")
    heading(phone, "Accepted")
    assert kinds(run)[-1] == "accepted"
    assert hand.taps <= MOST_TAPS
    assert hand.characters <= MOST_CHARACTERS
    assert (hand.taps, hand.characters) == (8, 12)


def said(page) -> str:
    return page.locator("body > .for-readers[role=status]").last.inner_text()


def focused(page) -> str:
    return page.evaluate("document.activeElement.name")


def test_after_each_step_the_next_answer_has_the_focus_and_a_word_is_said(phone, run):
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    assert focused(phone) == "n2_percent"
    assert "Logged: Filled with nitrogen" in said(phone)
    assert "Fill 1: what does the vent read" in said(phone)
    phone.keyboard.type("92.9")
    phone.keyboard.press("Enter")
    heading(phone, "Fill 1: purged to zero")
    assert focused(phone) == "at_zero"
    assert "92.9 %" in said(phone)


def test_without_a_connection_it_says_that_the_book_does_not_have_it(phone, run):
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    assert "not yet in the book" in said(phone)
    assert "Logged" not in said(phone)
    phone.context.set_offline(False)
    is_sent(phone)


def test_a_reading_at_target_is_not_called_accepted_while_the_owner_asks_for_more(
    open_page, system, technician
):
    OwnerPolicy.objects.create(owner=system.site.owner, acceptance_points=2)
    run = begin(system, technician)
    log(run, technician, "filled-1", pressure_gauge_pa=150 * PSI)
    phone = open_page(technician, size=PHONE)
    phone.goto(run.get_absolute_url())
    ready(phone)
    phone.context.set_offline(True)
    phone.get_by_label("Nitrogen").fill("98.3")
    phone.get_by_label("Where").fill("Far vent")
    phone.get_by_role("button", name="Log the reading").click()
    waits(phone)
    heading(phone, "Fill 1: what does the vent read")
    phone.context.set_offline(False)
    phone.get_by_text("1 of 2 points are read at target").wait_for()
    assert kinds(run)[-1] == "read"


def test_the_phone_remembers_what_the_meter_shows(phone, run):
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    unit = phone.locator("#step [name=n2_percent_unit]")
    assert unit.input_value() == "% N2"
    unit.select_option("% O2")
    phone.locator("#step [name=n2_percent]").fill("7.1")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Fill 1: purged to zero")
    phone.get_by_role("button", name=re.compile("the gauge reads zero")).click()
    heading(phone, "Fill 2: is the pressure reached")
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 2: what does the vent read")
    assert phone.locator("#step [name=n2_percent_unit]").input_value() == "% O2"
    form = reverse("registry:record-new", args=[run.system_id, "reading.gas"])
    phone.goto(form)
    other = phone.locator("[name=n2_percent_unit]")
    assert other.input_value() == "% N2"
    phone.get_by_label("Gas analyser").fill("meter 7")
    phone.get_by_label("Gas analyser").press("Tab")
    assert other.input_value() == "% O2"


def test_gas_that_the_gauges_tell_is_logged_with_one_tap_also_after_a_step(phone, run):
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    phone.locator("#step [name=n2_percent]").fill("92.9")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Fill 1: purged to zero")
    phone.get_by_role("button", name=re.compile("the gauge reads zero")).click()
    heading(phone, "Fill 2: is the pressure reached")
    phone.get_by_text("Cylinders and gas used").click()
    phone.get_by_label("Cylinder pressure before").fill("2000")
    phone.get_by_label("Cylinder pressure after").fill("1400")
    phone.get_by_role("button", name=re.compile("Log that")).click()
    heading(phone, "Fill 2: what does the vent read")
    kept = Record.objects.filter(kind="inerting.filled").latest("sequence").details
    assert kept["gas_used_m3"] > 1
    assert kept["pressure_gauge_pa"] == pytest.approx(30 * PSI, rel=0.01)


def test_digits_can_be_read_at_arms_length(phone, run):
    """32 px of 160 to the inch are 5 mm: twice what print is read at 0.7 m with."""
    size = "parseFloat(getComputedStyle(document.querySelector('#step [data-dimension]')).fontSize)"
    assert phone.evaluate(size) >= 32


def test_a_photo_is_kept_while_a_step_is_half_typed(phone, run):
    phone.get_by_text("Photo of gauge, meter or tag").click()
    phone.locator("#step [name=where]").fill("Half typ")
    photo = {"name": "gauge.jpg", "mimeType": "image/jpeg", "buffer": JPEG}
    phone.set_input_files("form[data-photo] [type=file]", photo)
    phone.locator("form[data-photo]").get_by_label("Gauge").check()
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Keep the photo").click()
    phone.get_by_text("the photo is kept on this phone, not yet in the book").wait_for()
    phone.context.set_offline(False)
    phone.get_by_text("The photo is record").wait_for()
    phone.get_by_role("link", name="gauge.jpg").wait_for()
    assert Attachment.objects.get().record.details["of"] == "gauge"
    assert phone.locator("#step [name=where]").input_value() == "Half typ"


def test_a_signature_is_drawn_and_can_be_cleared(open_page, run, technician):
    InertingRun.objects.update(status="returned")
    phone = open_page(technician, size=PHONE)
    phone.goto(reverse("registry:run-sign", args=[run.pk]))
    pad = phone.locator("canvas")
    assert not pad.is_visible()
    phone.get_by_label("Name").fill("Olive Manager")
    phone.get_by_label("On this screen").check()
    pad.evaluate("(element) => element.scrollIntoView({ block: 'center' })")
    edge = pad.bounding_box()
    phone.mouse.move(edge["x"] + 20, edge["y"] + 60)
    phone.mouse.down()
    phone.mouse.move(edge["x"] + 120, edge["y"] + 20, steps=4)
    phone.mouse.up()
    phone.get_by_text("Something is drawn").wait_for()
    phone.get_by_role("button", name="Clear the box").click()
    assert phone.locator("[name=drawn]").input_value() == ""
    phone.mouse.move(edge["x"] + 20, edge["y"] + 60)
    phone.mouse.down()
    phone.mouse.move(edge["x"] + 200, edge["y"] + 40, steps=4)
    phone.mouse.up()
    assert violations(phone) == {}
    phone.get_by_role("button", name="Record the signature").click()
    phone.get_by_text("signed, and on record").wait_for()
    signed = Record.objects.get(kind="inerting.signed")
    assert signed.attachments.get().size > 500


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_each_step_breaks_no_rule_of_wcag_for_the_technician(open_page, system, technician, scheme):
    OwnerPolicy.objects.create(
        owner=system.site.owner, acceptance_points=2, acceptance_wait_minutes=1,
        acceptance_hold_minutes=15,
    )  # fmt: skip
    run = begin(system, technician)
    page = open_page(technician, size=PHONE, scheme=scheme)

    def look(words):
        page.goto(run.get_absolute_url())
        heading(page, words)
        page.locator("details").evaluate_all("all => all.forEach((one) => { one.open = true; })")
        for width, height in (PHONE, DESK):
            page.set_viewport_size({"width": width, "height": height})
            assert violations(page) == {}, (words, width)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})

    look("Which analyser")
    log(run, technician, "checked", air_o2_percent=20.9)
    look("is the pressure reached")
    log(run, technician, "filled-1", pressure_gauge_pa=150 * PSI)
    look("what does the vent read")
    log(run, technician, "read-1", n2_percent=98.3, where="Far vent")
    look("what does the vent read")
