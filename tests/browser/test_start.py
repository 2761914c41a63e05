"""`make start` as a newcomer runs it: from the printed address to an owner with a system, in a
browser alone. Twice is going on; what the terminal says stays readable."""

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.test_demo import free_port

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        "DATABASE_URL" in os.environ,
        reason="the start brings its own database, whatever the tests use; run without it",
    ),
]
ROOT = Path(__file__).parents[2]
PATIENCE_S = 600


class Started:
    def __init__(self, folder: Path):
        self.log, self.port = folder / "log.txt", free_port()
        outside = {"DATABASE_URL", "REDIS_URL", "STATIC_MANIFEST", "DJANGO_SETTINGS_MODULE",
                   "EMAIL_URL", "PUBLIC_URL"}  # fmt: skip
        env = {name: value for name, value in os.environ.items() if name not in outside}
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "start", "--port", str(self.port)],
                cwd=ROOT, env=env | {"RISERBOOK_VAR_DIR": str(folder / "book")},
                stdout=log, stderr=log,
            )  # fmt: skip

    def printed(self, pattern: str) -> str:
        deadline = time.monotonic() + PATIENCE_S
        while not (found := re.search(pattern, self.log.read_text())):
            assert time.monotonic() < deadline, self.log.read_text()
            assert self.process.poll() is None, self.log.read_text()
            time.sleep(0.2)
        return found[1]

    def stop(self) -> None:
        self.process.send_signal(signal.SIGINT)
        assert self.process.wait(timeout=60) == 0, self.log.read_text()


@pytest.fixture
def start(tmp_path):
    made = []

    def begin():
        made.append(Started(tmp_path))
        return made[-1]

    yield begin
    for each in made:
        if each.process.poll() is None:
            each.process.kill()


def begin_book(page, address):
    page.goto(address)
    assert violations(page) == {}
    page.get_by_label("I look after the systems for their owner").check()
    page.get_by_label("Owner of the systems").fill("Skerrow Cold Stores")
    page.get_by_label("US customary").check()
    page.get_by_label("Your name").fill("Ines Orvald")
    page.get_by_label("Your e-mail address").fill("ines@skerrow.example")
    page.get_by_label("Password").fill("nine-quiet-herons")
    page.get_by_role("button", name="Begin the book").click()
    page.get_by_text("This book is empty. Five steps fill it.").wait_for()


def enter_site(page):
    page.get_by_label("Name").fill("Quay Store")
    page.get_by_label("Address").fill("4 Quay Road")
    assert page.locator("[name=time_zone]").input_value() == "Europe/Madrid"
    page.get_by_label("Height above sea level").fill("10 m")
    page.get_by_role("button", name="Enter the site").click()
    page.get_by_text("Quay Store is in the register.").wait_for()


def enter_system(page):
    page.get_by_role("link", name="Type one system in").click()
    page.locator("[name=tag]").fill("QS-1")
    page.locator("[name=kind]").select_option("wet")
    page.locator("[name=installed]").fill("2004")
    page.locator("[name=rated_pressure_gauge_pa]").fill("175 psi")
    page.get_by_role("button", name="Enter the system").click()
    page.get_by_text("Add its pipe next").wait_for()
    page.get_by_role("link", name=re.compile("pipe", re.I)).first.click()
    page.locator("[name=role]").select_option(index=1)
    page.locator("[name=material]").select_option(index=1)
    page.locator("[name=nominal_size]").fill("4")
    page.locator("[name=schedule]").fill("40")
    page.locator("[name=length_m]").fill("120 ft")
    page.locator("[name=joint]").select_option(index=1)
    page.get_by_role("button", name="Save the run", exact=True).click()
    page.get_by_text("from the pipe table").wait_for()


def test_from_the_printed_address_to_an_owner_with_a_system(start, chromium):
    book = start()
    address = book.printed(r"opens it, once:\s+(http://\S+)")
    context = chromium.new_context(
        viewport={"width": DESK[0], "height": DESK[1]}, timezone_id="Europe/Madrid"
    )
    page = context.new_page()
    page.set_default_timeout(45_000)
    begin_book(page, address)
    assert violations(page) == {}
    enter_site(page)
    enter_system(page)
    page.goto(f"http://localhost:{book.port}/first-steps/")
    page.get_by_text("3 of 5 first steps are done.").wait_for()
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert violations(page) == {}
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    page.goto(f"http://localhost:{book.port}/")
    page.get_by_text("QS-1").first.wait_for()
    assert page.goto(address).status == 404
    context.close()
    book.stop()
    assert len(book.log.read_text().splitlines()) < 20

    again = start()
    assert again.printed(r"Your book is at (\S+)").startswith("http://localhost")
    again.stop()
    assert "opens it, once" not in again.log.read_text()
