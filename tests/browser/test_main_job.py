"""The whole job in a browser: a messy register comes in, a head breaks, an order goes out, a run is
logged fill by fill on a phone, and the certificate, the state and the calendar say so."""

import io
import re
from datetime import date
from pathlib import Path

import pytest
import vobject
from django.utils import timezone
from pypdf import PdfReader

from registry.chain import verify
from registry.models import ServiceContract, System
from registry.services.ledger import links
from scheduling.models import Task

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

REGISTER = Path(__file__).parents[2] / "fixtures" / "demo" / "register.csv"
PHONE = (390, 844)
BAD_ROW = (
    'Elverdun Dock,Shed 4,ED-099,Dry,OH1,riser,unobtainium,10,"6""",12 ft,2012,none,175 psi,\n'
)


@pytest.fixture
def register(tmp_path):
    """The demo's register with one row that nobody could load."""
    path = tmp_path / "register.csv"
    path.write_text(REGISTER.read_text(encoding="utf-8") + BAD_ROW, encoding="utf-8")
    return path


def import_register(page, path):
    page.goto("/import/")
    page.set_input_files("input[type=file]", path)
    page.get_by_role("button", name="Read the file").click()
    page.get_by_text("unobtainium").first.wait_for()
    assert System.objects.count() == 0  # the preview loads nothing
    page.get_by_role("button", name=re.compile("^Load")).click()
    page.get_by_text("Loaded into the book").wait_for()
    with page.expect_download() as download:
        page.get_by_role("link", name=re.compile("as a file, with reasons")).click()
    return Path(download.value.path()).read_text(encoding="utf-8-sig")


def log_head_break(page, system):
    page.goto(f"/systems/{system.pk}/")
    page.get_by_role("link", name="Log an event or reading").click()
    page.get_by_role("link", name="Head break").click()
    page.get_by_label("Number of sprinklers").fill("1")
    page.get_by_label("Where").fill("Bay 3, knocked off by a lift truck")
    page.get_by_role("button", name=re.compile("Record|Log|Save")).first.click()
    page.get_by_text("Aerated").first.wait_for()


def make_feed(page, base_url) -> str:
    page.goto("/feeds/")
    page.get_by_label("Name").fill("My phone")
    page.get_by_role("button", name="Make the address").click()
    address = page.get_by_label("Address of the feed").input_value()
    return base_url + "/feed/" + address.rpartition("/feed/")[2]


def calendar(page, address):
    response = page.request.get(address)
    assert response.status == 200
    return vobject.readOne(response.text())


def orders_in(calendar, tag):
    events = getattr(calendar, "vevent_list", [])
    return [event for event in events if tag in event.summary.value]


def answer(page, **answers):
    """One step of the run: fill what is asked, press the one big button."""
    for name, value in answers.items():
        page.locator(f"form.entry [name={name}]").fill(value)
    title = page.locator("h1").inner_text()
    page.locator("form.entry button[type=submit]:not(.for-readers)").first.click()
    page.locator("h1").filter(has_not_text=title).wait_for()


def run_to_the_end(page, system):
    page.goto(f"/systems/{system.pk}/inerting/")
    page.get_by_label("Gas analyser", exact=False).first.fill("Analyser 7")
    page.get_by_role("group", name="Did the owner give leave").get_by_label("Yes").check()
    with page.expect_response(lambda response: "/inerting/" in response.url):
        pass  # the plan is worked out anew after what was typed, and the answer stays
    page.wait_for_load_state("networkidle")
    page.get_by_role("button", name="Start the run").click()
    answer(page, air_o2_percent="20.9")
    for n2_percent in ("92.8", "97.6"):
        answer(page, pressure_gauge_pa="30 psi")
        answer(page, n2_percent=n2_percent, where="Far vent")
        answer(page, pressure_gauge_pa="0 psi")
    answer(page, pressure_gauge_pa="30 psi")
    answer(page, n2_percent="99.2", where="Far vent")
    answer(page, pressure_gauge_pa="0 psi")
    answer(page, pressure_gauge_pa="110 psi")
    for radio in page.locator("form.entry input[type=radio][value=yes]").all():
        radio.dispatch_event("click")
    answer(page)


def test_from_a_messy_register_to_a_closed_order(
    world, open_page, live_server, register, technician
):
    desk = open_page(world.owner)
    mended = import_register(desk, register)
    assert "unobtainium" in mended
    assert System.objects.count() == 64
    system = System.objects.get(tag="FT-019")
    ServiceContract.objects.create(
        site=system.site, contractor=world.contractor, starts_on=date(2020, 1, 1)
    )

    log_head_break(desk, system)
    order = Task.objects.get(system=system, kind="reinerting_order")
    assert order.assigned_to == world.contractor

    phone = open_page(technician, size=PHONE)
    address = make_feed(phone, live_server.url)
    order_summary = re.compile("Re-inerting order")
    (event,) = (
        entry
        for entry in orders_in(calendar(phone, address), "FT-019")
        if order_summary.search(entry.summary.value)
    )
    assert "Fennick Terminal" in event.location.value

    phone.goto("/work/")
    phone.get_by_role("link", name="Re-inerting order").first.click()
    assert phone.url.endswith(order.get_absolute_url())
    run_to_the_end(phone, system)

    certificate = phone.request.get(f"/runs/{system.inerting_runs.get().pk}/certificate.pdf")
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(certificate.body())).pages)
    system.refresh_from_db()
    assert "FT-019" in text
    assert "99.2" in text
    assert "Analyser 7" in text  # typed a moment before the run was started

    desk.goto(f"/systems/{system.pk}/")
    now_said = desk.locator("section[aria-labelledby=now]")
    now_said.filter(has_text=re.compile(r"Inert\s+since")).wait_for()
    now = System.objects.with_atmosphere(timezone.now()).get(pk=system.pk)
    assert now.atmosphere_state == "inert"
    order.refresh_from_db()
    assert order.status == Task.Status.DONE
    confirming = Task.objects.filter(system=system, status="open", kind="confirming_reading")
    assert confirming.count() == 3
    (closed,) = (
        entry
        for entry in orders_in(calendar(phone, address), "FT-019")
        if entry.uid.value == event.uid.value
    )
    assert closed.summary.value == "Done: Re-inerting order, FT-019"
    assert not hasattr(closed, "valarm")
    assert verify(links(system)) == []
