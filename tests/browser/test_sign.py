"""From the code of a sign, without an account, on a phone: told, heard of, answered."""

import pytest
from django.core import mail
from django.utils import timezone

from registry.services import add_fitting
from registry.services.sign_settings import save_settings
from scheduling.messages import outbox
from scheduling.messages.sending import send_due
from scheduling.models import Task
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.factories import PSI, make_system
from tests.registry.sign_world import hang_sign
from tests.restoration import RESTORED
from tests.scheduling.ledger import DAY, accept, make_record, read
from tests.scheduling.recurring_world import JPEG

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def system(world, now):
    system = make_system(
        world.site, world.owner, now=now - 30 * DAY, tag="NQ-9", service_pressure_gauge_pa=95 * PSI
    )
    for kind, label in (
        ("injection_port", "IP-1"),
        ("control_valve", "CV-1"),
        ("main_drain", "MD-1"),
    ):
        add_fitting(system=system, recorded_by=world.owner, now=now, kind=kind, label=label)
    save_settings(site=world.site, now=now, languages="en es", contractor_telephone="+1 555 0123")
    accept(system, now - 2 * DAY, now=now - 2 * DAY)
    read(system, now - DAY / 2, 98.8, now=now)
    make_record(system, "event.impairment_end", now - DAY, now=now, **RESTORED)
    return system


@pytest.fixture
def phone(open_page):
    return open_page(size=PHONE)


@pytest.fixture
def code(system, world):
    return f"/s/{hang_sign(system, world.owner).secret}/"


def state(system):
    span = system.spans.filter(starts_at__lte=timezone.now()).order_by("-starts_at").first()
    return span.state, system.protection_spans.order_by("-starts_at").first().state


def tell(page, code, what, **typed):
    page.goto(code)
    page.get_by_role("link", name="Tell what happened").first.click()
    page.get_by_role("link", name=what).click()
    for label, words in typed.items():
        page.get_by_label(label.replace("_", " "), exact=False).fill(words)
    assert violations(page) == {}


def told_by_mail(now):
    send_due(lambda: now + outbox.GATHERING + DAY / 24)
    return {
        address for one in mail.outbox if "Answer what was told" in one.body for address in one.to
    }


def test_from_the_code_to_a_record_a_doubt_messages_a_confirmation_and_an_order(
    phone, open_page, code, system, world, now
):
    assert state(system) == ("inert", "in_service")
    tell(phone, code, "A sprinkler opened", In_your_own_words="Forklift, bay 4", Your_name="Pat")
    phone.get_by_label("Photos").set_input_files(
        {"name": "Pat.jpg", "mimeType": "image/jpeg", "buffer": JPEG}
    )
    phone.get_by_role("button", name="Send it").click()
    phone.get_by_role("heading", name="It is written down").wait_for()
    assert "Portfolio" not in phone.content()
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    assert state(system) == ("in_doubt", "not_known")
    assert told_by_mail(now) == {world.owner.email, world.technician.email}

    desk = open_page(world.technician, size=DESK)
    desk.goto(system.get_absolute_url())
    desk.get_by_role("link", name="Answer what was told", exact=True).click()
    assert "Forklift, bay 4" in desk.content() and "From: Pat" in desk.content()
    assert violations(desk) == {}
    desk.get_by_role("link", name="Confirm it: head break").click()
    desk.get_by_label("Number of sprinklers").fill("1")
    desk.get_by_role("button", name="Record it").click()
    desk.get_by_text("it answers what was told").wait_for()
    assert state(system) == ("aerated", "impaired")
    rules = set(Task.objects.open().filter(system=system).values_list("rule", flat=True))
    assert "aerated" in rules and "told" not in rules


def test_from_the_code_to_a_dismissal_with_its_reason(phone, open_page, code, system, world, now):
    tell(phone, code, "Water or gas is coming out")
    phone.get_by_role("button", name="Send it").click()
    phone.get_by_role("heading", name="It is written down").wait_for()
    assert state(system) == ("in_doubt", "not_known")
    desk = open_page(world.owner, size=DESK)
    desk.goto(f"{system.get_absolute_url()}told/")
    desk.get_by_role("button", name="Dismiss it").click()
    desk.get_by_text("Nothing is written here yet.").first.wait_for()
    desk.get_by_label("Why it is dismissed").fill("Looked at: condensation on a cold water pipe.")
    desk.get_by_role("button", name="Dismiss it").click()
    desk.get_by_text("the doubt it raised is taken back").wait_for()
    assert state(system) == ("inert", "in_service")
    assert not Task.objects.open().filter(system=system, rule="told").exists()
    (taken_back,) = system.records.filter(supersedes__kind="event.told")
    assert "condensation" in taken_back.details["reason"]


def test_a_drain_down_with_the_helper_from_the_sign_in_spanish(
    phone, code, system, world, open_page
):
    phone.goto(code)
    phone.get_by_role("link", name="Español").click()
    phone.get_by_role("link", name="Vaciarla sin que entre aire").click()
    steps = phone.locator("ol.steps").inner_text().replace("\u00a0", " ")
    assert "CV-1" in steps and "105 psi" in steps
    phone.get_by_label("Presión que marca ahora").fill("6,0")
    phone.get_by_label("Unidad").select_option("bar")
    phone.get_by_role("button", name="Calcular").click()
    said = phone.locator("#set-point").inner_text().replace("\u00a0", " ")
    assert "97 psi (6,69 bar)" in said  # 6.0 bar + 10 psi = 6.69 bar = 97.0 psi
    assert violations(phone) == {}
    for box in phone.get_by_role("checkbox").all():
        box.check()
    phone.get_by_role("link", name="Ya está vacía").click()
    for group in phone.get_by_role("group").filter(has_text="nitrógeno").all():
        group.get_by_label("Sí").check()
    phone.get_by_role("button", name="Enviar").click()
    phone.get_by_role("heading", name="Queda anotado").wait_for()
    told = system.records.get(kind="event.told")
    assert told.details["what"] == "drained"
    assert told.details["nitrogen_before_opening"] == "yes"
    desk = open_page(world.technician, size=DESK)
    desk.goto(f"{system.get_absolute_url()}told/")
    desk.get_by_role("link", name="Confirm it: drain-down").click()
    group = desk.get_by_role("group", name="Was nitrogen connected before any drain was opened?")
    assert group.get_by_label("Yes").is_checked()
