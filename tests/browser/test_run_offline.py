"""A phone at the riser: lost connections, double taps, two people, an expired session."""

import re
from uuid import uuid4

import pytest
from django.utils import timezone
from playwright.sync_api import Error

from registry.models import Record, User
from registry.runs.planning import opening_answers, plan_for_system
from registry.runs.steps import RunStep
from registry.services.runs import log_step, start_run, stop_run
from tests.browser.conftest import PHONE
from tests.factories import PSI

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def run(system, technician):
    answers = opening_answers(system, oxygen=None)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    plan = plan_for_system(system, answers)
    run = start_run(system=system, plan=plan, opened_by=technician, opened_at=timezone.now())
    log(run, technician, "checked", air_o2_percent=20.9)
    return run


@pytest.fixture
def phone(open_page, run, technician):
    page = open_page(technician, size=PHONE)
    page.goto(run.get_absolute_url())
    ready(page)
    return page


def log(run, by, token, **details):
    return log_step(
        run=run, step=RunStep.from_token(token), details=details, recorded_by=by,
        occurred_at=timezone.now(), client_key=uuid4(),
    )  # fmt: skip


def kinds(run):
    rows = Record.objects.filter(inerting_run=run).order_by("sequence")
    return [row.kind.removeprefix("inerting.") for row in rows if row.kind != "inerting.checked"]


COUNT = """() => new Promise((resolve) => {
  const asked = indexedDB.open("riserbook");
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => resolve(all.result.filter((row) => !row.done).length);
  };
})"""


HAS_KEY = """() => new Promise((resolve) => {
  const asked = indexedDB.open("riserbook");
  asked.onsuccess = () => {
    const count = asked.result.transaction("keys").objectStore("keys").count();
    count.onsuccess = () => resolve(count.result > 0);
  };
})"""


def ready(page) -> None:
    """The phone can keep what is written on it."""
    until(page, lambda: page.evaluate(HAS_KEY))


def kept(page) -> int:
    """Entries on the phone, of whomever."""
    return page.evaluate(COUNT)


def waits(page) -> None:
    """The page says that something is on this phone alone."""
    page.locator("#outbox").get_by_text("kept on this phone, not yet in the book").wait_for()


def is_sent(page) -> None:
    until(page, lambda: kept(page) == 0)
    page.locator("#outbox").wait_for(state="hidden")


def open_entry(page) -> None:
    """The first entry on the phone that can be opened."""
    page.locator("#outbox summary").click()
    page.locator("#outbox").get_by_role("link", name="Open and mend").first.click()


def heading(page, words):
    page.get_by_role("heading", level=1, name=re.compile(words)).wait_for()


def test_a_step_is_sent_and_the_next_question_comes(phone, run):
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    assert kinds(run) == ["started", "filled"]
    assert kept(phone) == 0


def test_without_a_connection_the_entry_waits_on_the_phone_and_goes_out_once(phone, run):
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    waits(phone)
    assert kinds(run) == ["started"]
    assert kept(phone) == 1
    phone.context.set_offline(False)
    is_sent(phone)
    heading(phone, "Fill 1: what does the vent read")
    assert kinds(run) == ["started", "filled"]
    assert kept(phone) == 0


def test_a_run_goes_on_without_a_connection_and_arrives_in_order(phone, run):
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    phone.get_by_label("Nitrogen").fill("92.6")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Fill 1: purged to zero")
    phone.get_by_role("button", name="Purged").click()
    heading(phone, "Fill 2: is the pressure reached")
    phone.get_by_label("Where").fill("Riser port")
    assert kinds(run) == ["started"]
    assert kept(phone) == 3
    phone.context.set_offline(False)
    is_sent(phone)
    heading(phone, "Fill 2: is the pressure reached")
    assert kinds(run) == ["started", "filled", "read", "purged"]
    assert phone.get_by_label("Where").input_value() == "Riser port"
    assert kept(phone) == 0


def test_an_accepted_reading_leads_on_to_the_final_purge_without_a_connection(
    phone, run, technician
):
    log(run, technician, "filled-1", pressure_gauge_pa=60 * PSI)
    log(run, technician, "read-1", n2_percent=95.8)
    log(run, technician, "purged-1", pressure_gauge_pa=0.0)
    log(run, technician, "filled-2", pressure_gauge_pa=60 * PSI)
    phone.reload()
    phone.context.set_offline(True)
    phone.get_by_label("Nitrogen").fill("99.1")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Nitrogen vented to zero")
    phone.context.set_offline(False)
    is_sent(phone)
    assert kinds(run)[-2:] == ["read", "accepted"]


def test_what_lies_ahead_waits_while_an_entry_is_asked_about(phone, run, technician):
    log(run, technician, "filled-1", pressure_gauge_pa=30 * PSI)
    phone.reload()
    phone.context.set_offline(True)
    phone.get_by_label("Nitrogen").fill("92.6")
    phone.get_by_text("Not done just now?").click()
    phone.locator("#step [name=occurred_at]").fill("2036-01-01T10:00")  # refused: the future
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Fill 1: purged to zero")
    phone.get_by_role("button", name="Purged").click()
    heading(phone, "Fill 2")
    phone.context.set_offline(False)
    phone.locator("#outbox").get_by_text("Waiting for an answer from you: 1").wait_for()
    heading(phone, "Fill 2")  # the page under the hand stays
    assert kinds(run) == ["started", "filled"]
    open_entry(phone)
    heading(phone, "Fill 1: what does the vent read")
    assert phone.get_by_label("Nitrogen").input_value() == "92.6"
    phone.get_by_text("Not done just now?").click()
    phone.locator("#step [name=occurred_at]").fill("")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Fill 2: is the pressure reached")
    assert kinds(run) == ["started", "filled", "read", "purged"]


def test_an_answer_lost_on_the_way_back_does_not_write_the_step_twice(phone, run):
    lost = []

    def lose_the_answer(route):
        """The first arrives; no answer does, however often the page asks meanwhile."""
        if not lost:
            route.fetch(max_redirects=0)
        lost.append(route.request.url)
        route.abort()

    phone.route("**/step/", lose_the_answer)
    phone.get_by_role("button", name="Pressure reached").click()
    waits(phone)
    heading(phone, "Fill 1: what does the vent read")
    assert kinds(run) == ["started", "filled"]
    assert kept(phone) == 1
    phone.unroute("**/step/")
    phone.locator("#outbox summary").click()
    phone.get_by_role("button", name="Send now").click()
    is_sent(phone)
    heading(phone, "Fill 1: what does the vent read")
    assert kinds(run) == ["started", "filled"]
    assert kept(phone) == 0


def test_an_entry_survives_the_page_being_closed(phone, run):
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    waits(phone)
    address = phone.url
    phone.goto("about:blank")
    phone.context.set_offline(False)
    phone.goto(address)
    is_sent(phone)
    heading(phone, "Fill 1: what does the vent read")
    assert kinds(run) == ["started", "filled"]


def test_an_expired_session_keeps_the_entry_until_its_owner_is_back(phone, run, technician):
    cookies = phone.context.cookies()
    phone.context.clear_cookies(name="sessionid")
    phone.get_by_role("button", name="Pressure reached").click()
    waits(phone)
    phone.get_by_text("signed out").wait_for()
    assert kinds(run) == ["started"]
    phone.context.add_cookies(cookies)
    phone.goto(run.get_absolute_url())
    is_sent(phone)
    heading(phone, "Fill 1: what does the vent read")
    assert Record.objects.filter(inerting_run=run).last().recorded_by == technician


def test_a_questioned_reading_stays_on_the_phone_until_it_is_answered(phone, run, technician):
    log(run, technician, "filled-1", pressure_gauge_pa=30 * PSI)
    phone.reload()
    phone.get_by_label("Nitrogen").fill("84")
    phone.get_by_role("button", name="Log the reading").click()
    phone.get_by_text("Check this reading").wait_for()
    assert kept(phone) == 1
    phone.get_by_role("button", name="Keep this reading").click()
    heading(phone, "Fill 1: purged to zero")
    assert kinds(run) == ["started", "filled", "read"]
    assert kept(phone) == 0


def test_reading_again_drops_the_questioned_entry(phone, run, technician):
    log(run, technician, "filled-1", pressure_gauge_pa=30 * PSI)
    phone.reload()
    phone.get_by_label("Nitrogen").fill("84")
    phone.get_by_role("button", name="Log the reading").click()
    phone.get_by_role("link", name="Read again").click()
    phone.get_by_text("Check this reading").wait_for(state="detached")
    phone.wait_for_load_state()
    assert kept(phone) == 0
    assert kinds(run) == ["started", "filled"]


def test_what_another_person_logged_meanwhile_is_shown_beside_the_entry(phone, run, owner):
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    waits(phone)
    log(run, User.objects.get(pk=owner.pk), "filled-1", pressure_gauge_pa=31 * PSI)
    phone.context.set_offline(False)
    phone.locator("#outbox").get_by_text("Waiting for an answer from you: 1").wait_for()
    open_entry(phone)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "This step was already logged")
    phone.get_by_text("Olive Manager").wait_for()
    phone.get_by_role("button", name=re.compile("Keep both")).click()
    heading(phone, "Fill 1: what does the vent read")
    assert Record.objects.filter(inerting_run=run).last().kind == "reading.pressure"


def test_the_clock_runs_without_asking_the_book(phone):
    assert phone.locator("[data-since]").inner_text() == "0:00"


def test_every_target_is_big_enough_for_a_glove(phone):
    small = [
        (box["height"], element.inner_text())
        for element in phone.locator("main button:visible, main .thumb a:visible").all()
        if (box := element.bounding_box()) and box["height"] < 56
    ]
    assert small == []


ON_THE_SHELF = "async (a) => (await (await caches.open('riserbook-pages')).match(a)) != null"
WORDS_ON_THE_SHELF = (
    "async (a) => await (await (await caches.open('riserbook-pages')).match(a))?.text() ?? ''"
)
ALL_ON_THE_SHELF = """async (address) => {
  const shelf = await caches.open('riserbook-pages');
  const parts = [...document.querySelectorAll('head script[src], head link[rel=stylesheet]')];
  const wanted = [address, ...parts.map((part) => part.src || part.href)];
  const found = await Promise.all(wanted.map((one) => shelf.match(one)));
  return navigator.serviceWorker.controller !== null && found.every(Boolean);
}"""


def until(page, is_so):
    """The policy of the book forbids what Playwright's own waiting does in the page."""
    for _ in range(100):
        if is_so():
            return
        page.wait_for_timeout(100)
    raise AssertionError("It did not come to be.")


def wait_for_the_shelf(page, run):
    """The worker is in charge, and the page and its parts lie ready."""
    until(page, lambda: page.evaluate(ALL_ON_THE_SHELF, run.get_absolute_url()))


def test_a_page_loaded_again_without_a_connection_goes_on_where_the_phone_was(phone, run):
    wait_for_the_shelf(phone, run)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    phone.get_by_label("Nitrogen").fill("92.6")
    phone.get_by_role("button", name="Log the reading").click()
    heading(phone, "Fill 1: purged to zero")
    phone.reload()
    heading(phone, "Fill 1: purged to zero")
    phone.get_by_text("2 entries kept on this phone").wait_for()
    phone.get_by_role("button", name="Purged").click()
    heading(phone, "Fill 2: is the pressure reached")
    phone.context.set_offline(False)
    is_sent(phone)
    heading(phone, "Fill 2: is the pressure reached")
    assert kinds(run) == ["started", "filled", "read", "purged"]


def test_the_page_kept_on_the_phone_follows_the_steps_and_keeps_the_policy_of_the_book(phone, run):
    wait_for_the_shelf(phone, run)
    phone.get_by_role("button", name="Pressure reached").click()
    heading(phone, "Fill 1: what does the vent read")
    words, address = "Fill 1: what does the vent read", run.get_absolute_url()
    until(phone, lambda: words in phone.evaluate(WORDS_ON_THE_SHELF, address))
    phone.context.set_offline(True)
    answer = phone.reload()
    assert answer.from_service_worker
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    heading(phone, words)


def test_signing_out_takes_the_page_off_the_phone(phone, run):
    wait_for_the_shelf(phone, run)
    phone.get_by_role("button", name="Menu").click()
    phone.get_by_role("button", name="Sign out").click()
    heading(phone, "Sign in")
    assert not phone.evaluate(ON_THE_SHELF, run.get_absolute_url())
    phone.context.set_offline(True)
    with pytest.raises(Error, match="net::ERR_"):
        phone.goto(run.get_absolute_url())


def test_a_session_that_ended_elsewhere_takes_the_page_off_the_phone_too(phone, run):
    wait_for_the_shelf(phone, run)
    phone.context.clear_cookies(name="sessionid")
    phone.reload()
    heading(phone, "Sign in")
    until(phone, lambda: not phone.evaluate(ON_THE_SHELF, run.get_absolute_url()))


def test_a_run_that_has_ended_is_taken_off_the_phone(phone, run, technician):
    wait_for_the_shelf(phone, run)
    how = {"reason": "Rain", "left_as": "Drained"}
    stop_run(run=run, recorded_by=technician, occurred_at=timezone.now(), **how)
    phone.reload()
    heading(phone, "The run was stopped")
    until(phone, lambda: not phone.evaluate(ON_THE_SHELF, run.get_absolute_url()))
