"""Reports at their largest and oddest: every page within its margins, every row on paper."""

import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from copy import copy
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from registry.services import add_fitting
from registry.services.assessments import assess_system
from reports.kept.asked import Asked
from reports.kept.choosing import chosen_systems
from reports.kept.collecting import Collected
from reports.kept.portfolio import paper_of
from reports.kept.work.order import order_paper
from reports.kept.work.visit import Visit, visit_paper
from scheduling.models import Occurrence, Task
from tests.factories import NOW, make_pipe_run, make_record, make_system
from tests.reports.kept.reading import (
    cells_of,
    is_pdf_a_2b,
    reader_of,
    squeezed,
    text_of,
)
from tests.reports.kept.test_work_papers import AT, DAY, jpeg
from tests.scheduling.recurring_world import adopt, complete

SIZES = {"si": (210 / 25.4 * 72, 297 / 25.4 * 72), "us": (8.5 * 72, 11 * 72)}
"""A4 (ISO 216) and Letter (ANSI Y14.1), in points of 1/72 in."""
SIDE_PT, EDGE_PT = 18 / 25.4 * 72, 6 / 25.4 * 72
LONG = "Northern cold store beside the old rope walk, upper hall with the mezzanine " * 2
NAMES = {
    "plain": lambda number: f"NQ-{number:03d}",
    "long": lambda number: f"{LONG[:70]}-{number}"[-80:],
    "one long word": lambda number: f"{'W' * 60}{number:03d}",
    "right to left": lambda number: (
        f"مخزن {number:03d} قاعة" if number % 2 else f"רשות {number:03d}"
    ),
}


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def scored(world, now):
    entered = now - timedelta(days=900)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-001")
    make_pipe_run(system, world.owner, now=entered)
    at = now - timedelta(days=90)
    make_record(system, "event.head_break", at, world.owner, now=at, count=1)
    assess_system(system, now)
    return system


def of_many(world, now, names, count):
    """The report of one system that is there, told of as many as are asked for."""
    chosen = chosen_systems(world.owner, {}, now)
    report = Collected(
        chosen.keys, Asked.of_today(now), world.owner, now, chosen_by=chosen.words,
        owners=chosen.owners,
    )  # fmt: skip
    (first,) = report.rows
    site = copy(first.system.site)
    site.name = names(0)[:60]
    rows = []
    for number in range(count):
        system = copy(first.system)
        system.pk, system.tag, system.site = system.pk + number, names(number), site
        rows.append(replace(first, book=replace(first.book, system=system)))
    helps, events = report.helps, report.events  # worked out once, and told of all
    vars(report).update(
        rows=rows,
        helps=[replace(one, standing=row) for row in rows for one in helps],
        events=[replace(one, standing=row) for row in rows for one in events],
    )
    return report


def check_pages(pdf, units, tmp_path):
    """The size of each page, and every word of it inside the margins of the paper."""
    width, height = SIZES[units]
    for page in reader_of(pdf).pages:
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.5)
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.5)
        assert len(page.extract_text()) > 100  # no page is all but empty
    path = tmp_path / "paper.pdf"
    path.write_bytes(pdf)
    if not shutil.which("pdftotext"):
        return  # where a word ends is known to poppler alone
    told = subprocess.run(
        ["pdftotext", "-bbox", str(path), "-"], capture_output=True, check=True
    ).stdout
    for word in ElementTree.fromstring(told).iter("{http://www.w3.org/1999/xhtml}word"):
        left, right = float(word.get("xMin")), float(word.get("xMax"))
        top, bottom = float(word.get("yMin")), float(word.get("yMax"))
        assert left >= SIDE_PT - 1 and right <= width - SIDE_PT + 1, word.text
        assert top >= EDGE_PT and bottom <= height - EDGE_PT, word.text


@pytest.mark.thorough
@pytest.mark.parametrize("units", SIZES)
@pytest.mark.parametrize("kind", NAMES)
def test_three_hundred_rows_are_all_on_paper_and_within_it(
    world, scored, now, kind, units, tmp_path
):
    world.owner.display_units = units
    paper = paper_of(of_many(world, now, NAMES[kind], 300))
    pdf = paper.pdf()
    check_pages(pdf, units, tmp_path)
    assert is_pdf_a_2b(pdf)
    pages = [squeezed(page.extract_text()) for page in reader_of(pdf).pages]
    listing = next(one for one in paper.sections if one.title == "All of the systems").blocks[0]
    assert len(listing.rows) == 300
    if kind == "right to left":
        assert "□" not in "".join(pages)
        return  # a reader's program turns such letters about: the next test compares
    text = "".join(pages)
    for row in listing.rows:
        assert squeezed(row[0]) in text
    begins = next(at for at, page in enumerate(pages) if "Allofthesystems" in page)
    ends = next(at for at, page in enumerate(pages) if squeezed(listing.rows[-1][0]) in page)
    full = pages[begins : len(pages) - 1]
    assert len(full) >= 5 and ends >= begins
    assert all("Waitingaweek" in page for page in full)  # each page has the heads of its columns


@pytest.mark.parametrize("units", SIZES)
@pytest.mark.parametrize("photos", [0, 40])
def test_a_visit_with_forty_photos_and_with_none(world, system, photos, units, tmp_path):
    adopt(world.site, world.owner)
    work = Occurrence.objects.open().with_place().filter(system=system)[:4]
    for at, occurrence in enumerate(work):
        complete(
            occurrence, world.technician, AT, now=NOW,
            files=[photo(4 * number + at) for number in range(photos // 4)],
        )  # fmt: skip
    world.owner.display_units = units
    paper = visit_paper(Visit(world.site, DAY, world.owner, NOW))
    pdf = paper.pdf()
    check_pages(pdf, units, tmp_path)
    assert is_pdf_a_2b(pdf)
    assert sum(len(page.images) for page in reader_of(pdf).pages) == photos
    text = text_of(pdf)
    for cell in cells_of(paper):
        assert squeezed(cell) in text


def photo(number):
    """Wide ones and tall ones, under a long name."""
    content = jpeg(640 + 10 * number, 480 if number % 2 else 900, shade=5 * number)
    return SimpleUploadedFile(f"{number}-{'gauge ' * 9}.jpg", content, "image/jpeg")


@pytest.mark.parametrize("units", SIZES)
def test_an_order_of_twelve_valves_with_long_tags(world, system, units, tmp_path):
    now = timezone.now()
    kinds = ("injection_port", "control_valve", "main_drain", *["low_point_drain"] * 9)
    for number, kind in enumerate(kinds):
        tag = NAMES["right to left"](number) if number % 4 == 0 else f"{kind.upper()}-{number}"
        add_fitting(
            system=system, recorded_by=world.owner, kind=kind, label=tag, location=LONG,
            order=number + 1,
        )  # fmt: skip
    make_record(system, "event.head_break", now - timedelta(days=2), world.owner, now=now, count=1)
    task = Task.objects.with_place().get(system=system, kind="reinerting_order")
    world.owner.display_units = units
    pdf = order_paper(task, reader=world.owner, now=now).pdf()
    check_pages(pdf, units, tmp_path)
    assert is_pdf_a_2b(pdf)
