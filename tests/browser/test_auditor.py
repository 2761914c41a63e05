"""An auditor's three tasks: take away a year of one site, verify it without this program, find
what was demanded and not done."""

import csv
import io
import re
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from zipfile import ZipFile

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import RecordPackage
from registry.services.owner_ledger import begin_ledger
from scheduling import recurring
from scheduling.recurring.upkeep import plan_recurring
from tests.conftest import make_world
from tests.factories import make_pipe_run, make_site, make_system
from tests.jobs import run_job
from tests.scheduling.recurring_world import adopt, complete, open_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DAY = timedelta(days=1)


@pytest.fixture
def book(db):
    """A year at one site: gauges read once and then no more, the main drain skipped; and a site
    that the auditor is not to see in the package."""
    world, now = make_world(), timezone.now()
    began = now - 360 * DAY
    begin_ledger(world.owner_organisation, now=began)
    system = make_system(world.site, world.owner, tag="NQ-101", now=began)
    make_pipe_run(system, world.owner, now=began)
    adopt(world.site, world.owner, now=began)
    plan_recurring(system=system, now=began)
    complete(open_of(system, "gauges"), world.technician, began + DAY, now=began + DAY)
    recurring.skip_occurrence(
        occurrence=open_of(system, "main-drain"), reason="The drain was frozen",
        recorded_by=world.technician, now=now - 30 * DAY,
    )  # fmt: skip
    begin_ledger(world.owner_organisation, now=now - 20 * DAY, by=world.owner)
    other = make_site(world.owner_organisation, name="South Quay")
    make_system(other, world.owner, tag="SQ-1", now=began)
    return world


def take_away(page, folder: Path) -> Path:
    page.goto(reverse("reports:audit"))
    page.get_by_role("link", name="Packages and proof").click()
    page.get_by_role("link", name="Make a package").click()
    page.get_by_label("Sites").select_option("North Quay")
    today = timezone.now().date()
    page.get_by_label("Happened from").fill((today - 365 * DAY).isoformat())
    page.get_by_label("Happened up to and with").fill(today.isoformat())
    page.get_by_role("button", name="Make the package").click()
    page.get_by_text("It is being made.").wait_for()
    run_job("scheduling.package", package=RecordPackage.objects.get().pk)
    with page.expect_download() as download:
        page.get_by_role("link", name="Download the package").click()
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


def fingerprint(page) -> str:
    page.goto("/proof/")
    return re.search(r"\b[0-9a-f]{64}\b", page.locator("main").inner_text()).group()


def verify(path: Path, folder: Path, key: str) -> tuple[int, str]:
    """With the program out of the package, as an auditor has it."""
    with ZipFile(path) as packed:
        packed.extract("verify.py", folder)
    command = [sys.executable, "-I", "-S", str(folder / "verify.py"), str(path), "--key", key]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)
    return done.returncode, done.stdout + done.stderr


def gaps_in(path: Path) -> set[tuple[str, str]]:
    with ZipFile(path) as packed:
        text = packed.read("demanded.csv").decode("utf-8-sig")
        assert not any(b"SQ-1" in packed.read(name) for name in packed.namelist())
    rows = csv.DictReader(io.StringIO(text, newline=""))
    return {
        (row["title"], row["outcome"])
        for row in rows
        if row["outcome"] in ("late", "skipped", "missed")
    }


def gaps_on_page(page) -> tuple[set[tuple[str, str]], str]:
    page.goto("/proof/")
    page.get_by_role("link", name="Hold the schedule of a site against its records").click()
    today = timezone.now().date()
    page.get_by_label("Site", exact=True).select_option(label="North Quay")
    page.get_by_label("Due from").fill((today - 365 * DAY).isoformat())
    page.get_by_label("Due up to and with").fill(today.isoformat())
    page.get_by_label("Only what was not done").check()
    page.get_by_role("button", name="Show").click()
    page.get_by_role("table").wait_for()
    rows = page.locator("tbody tr").all()
    first = "cell => cell.firstChild.textContent.trim()"
    found = set()
    for row in rows:
        cells = row.locator("td").all()
        found.add((cells[1].evaluate(first), cells[3].inner_text()))
    return found, page.locator("tbody").inner_text()


def test_an_auditor_takes_a_year_away_verifies_it_and_finds_what_was_not_done(
    open_page, book, tmp_path
):
    page = open_page(book.auditor)
    path = take_away(page, tmp_path)
    key = fingerprint(page)
    code, said = verify(path, tmp_path, key)
    assert code == 0, said
    assert said.endswith("Everything holds.\n") and "late" in said
    packed = gaps_in(path)
    shown, words = gaps_on_page(page)
    assert any(title == "Read the gauges" and outcome == "late" for title, outcome in packed)
    assert any(outcome == "skipped" for _, outcome in packed)
    assert shown == packed
    assert "The drain was frozen" in words and "Tam Technician" in words


def test_one_byte_changed_on_the_way_is_found(open_page, book, tmp_path):
    page = open_page(book.auditor)
    path = take_away(page, tmp_path)
    key = fingerprint(page)
    content = bytearray(path.read_bytes())
    with ZipFile(path) as packed:
        at = packed.getinfo("records.jsonl").header_offset + 80
    content[at] ^= 1
    changed = tmp_path / "changed.zip"
    changed.write_bytes(content)
    code, said = verify(changed, tmp_path, key)
    assert code in (1, 2), said
