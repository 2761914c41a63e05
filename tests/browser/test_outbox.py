"""What waits on a phone: opened, mended, thrown away, kept apart by person, asked about when its
person signs out."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import DiscardedEntry, Record
from tests.browser.conftest import PHONE
from tests.browser.test_run_offline import (  # noqa: F401
    HAS_KEY,
    heading,
    is_sent,
    kept,
    log,
    open_entry,
    phone,
    run,
    until,
    waits,
)
from tests.browser.test_run_offline import kinds as steps
from tests.factories import PSI, make_system
from tests.scheduling.orders_world import book, make_crew, make_order

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def form_of(system, kind):
    return reverse("registry:record-new", args=[system.pk, kind])


@pytest.fixture
def at_form(open_page, system, technician):
    page = open_page(technician, size=PHONE)
    page.goto(form_of(system, "reading.pressure"))
    until(page, lambda: page.evaluate(HAS_KEY))
    return page


STORED = """() => new Promise((resolve) => {
  const asked = indexedDB.open("riserbook");
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => resolve(all.result.map((row) => {
      const bytes = new Uint8Array(row.said.data);
      return [Object.keys(row), new TextDecoder().decode(bytes)];
    }));
  };
})"""


def pressures(system):
    rows = Record.objects.filter(system=system, kind="reading.pressure").order_by("sequence")
    return [round(row.details["pressure_gauge_pa"] / PSI) for row in rows]


def write(page, number):
    page.locator("[name=pressure_gauge_pa]").fill(number)
    page.get_by_role("button", name="Record it").click()


def test_a_reading_with_a_connection_goes_straight_into_the_book(at_form, system):
    write(at_form, "61")
    at_form.wait_for_url(f"**{system.get_absolute_url()}")
    assert pressures(system) == [61]
    assert kept(at_form) == 0


def test_a_reading_without_a_connection_is_kept_and_says_so(at_form, system):
    at_form.context.set_offline(True)
    write(at_form, "61")
    at_form.get_by_text("Kept on this phone, not yet in the book.").wait_for()
    assert pressures(system) == []
    waits(at_form)
    at_form.context.set_offline(False)
    is_sent(at_form)
    assert pressures(system) == [61]


def test_the_phone_asks_by_the_same_table_and_takes_the_answer(at_form, system):
    at_form.context.set_offline(True)
    write(at_form, "3000")
    at_form.get_by_text("is the pressure of a cylinder").wait_for()
    assert pressures(system) == []
    at_form.locator("[name=pressure_gauge_pa]").fill("62")
    at_form.get_by_role("button", name="Record it").click()
    at_form.get_by_text("Kept on this phone, not yet in the book.").wait_for()
    assert kept(at_form) == 1
    at_form.context.set_offline(False)
    is_sent(at_form)
    assert pressures(system) == [62]


def test_a_reading_outside_the_band_is_questioned_here_and_the_book_takes_the_answer(phone, run):  # noqa: F811
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    phone.get_by_label("Nitrogen").fill("84")
    phone.get_by_role("button", name="Log the reading").click()
    phone.locator("#step").get_by_text("% was expected").wait_for()
    phone.locator("#step").get_by_text("Air is getting in").wait_for()
    assert kept(phone) == 2
    phone.get_by_role("button", name="It is right: keep it").click()
    heading(phone, "Fill 1: purged to zero")
    phone.context.set_offline(False)
    is_sent(phone)
    assert steps(run) == ["started", "filled", "read"]
    read = Record.objects.get(inerting_run=run, kind="inerting.read")
    assert "Air is getting in" in read.details["questioned"]


def test_nothing_that_was_typed_can_be_read_from_the_phone(at_form):
    at_form.context.set_offline(True)
    at_form.locator("[name=note]").fill("Gate code 4711")
    write(at_form, "61")
    waits(at_form)
    ((names, text),) = at_form.evaluate(STORED)
    assert set(names) == {"order", "person", "key", "run", "done", "said", "files"}
    assert "4711" not in text and "psi" not in text


def test_a_refused_entry_holds_up_no_other_system_and_turns_no_page(
    at_form, open_page, system, world
):
    other = make_system(world.site, world.owner, tag="NQ-2")
    at_form.context.set_offline(True)
    at_form.locator("[name=occurred_at]").fill("2036-01-01T10:00")  # the book refuses the future
    write(at_form, "61")
    waits(at_form)
    at_form.context.set_offline(False)
    at_form.locator("#outbox").get_by_text("Waiting for an answer from you: 1").wait_for()
    at_form.goto(form_of(other, "reading.pressure"))
    at_form.context.set_offline(True)
    write(at_form, "62")
    at_form.get_by_text("Kept on this phone, not yet in the book.").wait_for()
    at_form.context.set_offline(False)
    until(at_form, lambda: pressures(other) == [62])
    at_form.get_by_text("Kept on this phone, not yet in the book.").wait_for()
    assert kept(at_form) == 1
    assert pressures(system) == []


def test_an_entry_is_mended_and_keeps_its_key(at_form, system):
    at_form.context.set_offline(True)
    at_form.locator("[name=occurred_at]").fill("2036-01-01T10:00")
    write(at_form, "61")
    waits(at_form)
    at_form.context.set_offline(False)
    at_form.locator("#outbox").get_by_text("Waiting for an answer from you: 1").wait_for()
    open_entry(at_form)
    until(at_form, lambda: at_form.locator("[name=pressure_gauge_pa]").input_value() == "61")
    now = timezone.localtime(timezone=system.site.zone)
    at_form.locator("[name=occurred_at]").fill(f"{now:%Y-%m-%dT%H:%M}")
    write(at_form, "63")
    at_form.wait_for_url(f"**{system.get_absolute_url()}")
    assert pressures(system) == [63]
    assert kept(at_form) == 0


def test_an_entry_is_thrown_away_by_a_second_tap(at_form, system):
    at_form.context.set_offline(True)
    write(at_form, "61")
    waits(at_form)
    at_form.locator("#outbox summary").click()
    at_form.get_by_role("button", name="Throw away").click()
    assert kept(at_form) == 1
    at_form.get_by_role("button", name=re.compile("Throw away")).click()
    until(at_form, lambda: kept(at_form) == 0)
    at_form.context.set_offline(False)
    assert pressures(system) == []


def hold_up(page) -> None:
    """Nothing that is sent gets through, so that a person is quicker than the page."""
    page.route("**/records/new/**", lambda route: route.abort())


def sign_out(page):
    page.get_by_role("button", name="Menu").click()
    page.locator("[data-sign-out] button").click()


def keep_one(page):
    page.context.set_offline(True)
    write(page, "61")
    waits(page)


def test_at_sign_out_what_waits_may_be_sent_first(at_form, system):
    keep_one(at_form)
    sign_out(at_form)
    at_form.context.set_offline(False)
    at_form.get_by_role("button", name="Send now, then sign out").click()
    heading(at_form, "Sign in")
    assert pressures(system) == [61]


def test_what_is_kept_at_sign_out_nobody_else_can_open_and_its_owner_sends(
    at_form, open_page, system, technician, owner, live_server
):
    from tests.browser.conftest import _session_cookie

    at_form.context.set_offline(True)
    write(at_form, "61")
    waits(at_form)
    sign_out(at_form)
    at_form.get_by_role("button", name=re.compile("Keep them here")).wait_for()
    hold_up(at_form)
    at_form.evaluate(
        "() => riserbook.outbox.leave(true)"
    )  # as the button does, before it signs out
    assert not at_form.evaluate(HAS_KEY)
    at_form.context.set_offline(False)
    at_form.context.clear_cookies(name="sessionid")
    at_form.context.add_cookies([_session_cookie(owner, live_server.url)])
    at_form.unroute_all()
    at_form.goto(system.get_absolute_url())
    until(at_form, lambda: at_form.evaluate(HAS_KEY))
    assert at_form.locator("#outbox").is_hidden()
    assert kept(at_form) == 1 and pressures(system) == []
    at_form.context.clear_cookies(name="sessionid")
    at_form.context.add_cookies([_session_cookie(technician, live_server.url)])
    at_form.goto(system.get_absolute_url())
    until(at_form, lambda: kept(at_form) == 0)
    assert pressures(system) == [61]
    assert Record.objects.get(kind="reading.pressure").recorded_by == technician
    # The page of before, still open, tried once for the other person; the book refused.
    assert all("403" in complaint for complaint in open_page.complaints)
    open_page.complaints.clear()


def test_what_is_discarded_at_sign_out_is_noted_by_the_book(at_form, system, technician):
    at_form.context.set_offline(True)
    write(at_form, "61")
    waits(at_form)
    sign_out(at_form)
    at_form.get_by_role("button", name=re.compile("Discard them")).click()
    at_form.get_by_text("The book did not answer, or you are signed out").wait_for()
    assert kept(at_form) == 1
    hold_up(at_form)
    at_form.context.set_offline(False)
    at_form.get_by_role("button", name=re.compile("Discard them")).click()
    heading(at_form, "Sign in")
    assert kept(at_form) == 0 and pressures(system) == []
    (row,) = DiscardedEntry.objects.all()
    assert row.person == technician and "61" in row.what


def test_a_photo_waits_with_the_steps(phone, run):  # noqa: F811
    from tests.registry.test_photos import JPEG

    phone.context.set_offline(True)
    phone.locator("details.beside summary").click()
    photo = {"name": "gauge.jpg", "mimeType": "image/jpeg", "buffer": JPEG}
    phone.locator("input[type=file]").set_input_files(photo)
    phone.locator("form[data-photo]").get_by_label("Gauge").check()
    phone.get_by_role("button", name="Keep the photo").click()
    waits(phone)
    phone.context.set_offline(False)
    is_sent(phone)
    assert steps(run)[-1] == "photo"


def test_the_phone_alone_calls_nothing_accepted_or_in_service(phone, run, technician):  # noqa: F811
    log(run, technician, "filled-1", pressure_gauge_pa=150 * PSI)
    phone.reload()
    phone.context.set_offline(True)
    phone.get_by_label("Nitrogen").fill("99.1")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Nitrogen vented to zero")
    phone.get_by_text("Until then nothing is accepted").wait_for()
    assert "Accepted" not in phone.locator("main").inner_text()
    assert "Accepted" not in phone.title()
    phone.get_by_role("button", name=re.compile("the gauge reads zero")).click()
    heading(phone, "Filled with water")
    phone.get_by_role("button", name="Filled").click()
    heading(phone, "Back in service?")
    for group in phone.locator("#step fieldset").all():
        group.get_by_label("Yes", exact=True).first.check()
    phone.get_by_role("button", name="Log these answers").click()
    heading(phone, "Everything is kept on this phone, and not yet in the book")
    shown = phone.locator("main").inner_text()
    assert "still counts the system as out of service" in shown
    assert "Back in service" not in shown
    phone.context.set_offline(False)
    is_sent(phone)
    heading(phone, "Back in service")


def test_ones_booked_jobs_open_without_a_connection_and_an_event_is_logged_there(
    open_page, system, world, technician
):
    now = timezone.now()
    order = make_order(system, now=now)
    crew = make_crew(world.contractor, "Van 1", technician)
    book(order, technician, now, now=now, crew=crew)
    page = open_page(technician, size=PHONE)
    page.goto(reverse("scheduling:day"))
    page.locator("[data-laid-count]").wait_for(state="attached")
    until(page, lambda: page.evaluate("() => navigator.serviceWorker.controller !== null"))
    until(page, lambda: page.evaluate(HAS_KEY))
    page.context.set_offline(True)
    page.goto(reverse("scheduling:day"))
    page.get_by_text("No connection. This page is as the book was at").wait_for()
    page.get_by_text(system.tag).first.wait_for()
    page.goto(form_of(system, "reading.pressure"))
    write(page, "64")
    page.get_by_text("Kept on this phone, not yet in the book.").wait_for()
    page.context.set_offline(False)
    is_sent(page)
    assert pressures(system) == [64]
