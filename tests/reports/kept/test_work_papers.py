"""Papers of single work: what a visit found, how a run was handed over, what an order needs."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from xml.etree import ElementTree

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image, ImageDraw

from registry.models import Attachment, Fitting
from registry.runs.steps import PURGED, RunStep
from registry.services import add_fitting
from registry.services.run_beside import add_photos, sign_hand_over
from registry.services.runs import log_step
from reports.kept.photos import LARGEST_PX, shrunk
from reports.kept.work.hand_over import hand_over_paper
from reports.kept.work.labels import label_paper
from reports.kept.work.order import order_paper
from reports.kept.work.valve_drawing import parts_of, valve_blocks
from reports.kept.work.vans import day_paper
from reports.kept.work.visit import Clause, Visit, visit_paper
from scheduling.models import Occurrence, Task
from tests.factories import NOW, PSI, make_building, make_pipe_run, make_record, make_system
from tests.registry.views.test_run_signature import drawing
from tests.reports.kept.reading import (
    cells_of,
    is_pdf_a_2b,
    reader_of,
    squeezed,
    text_in,
    text_of,
)
from tests.scheduling.recurring_world import adopt, complete, open_of
from tests.world_objects import make_run

DAY = date(2026, 5, 31)
AT = datetime(2026, 5, 31, 9, tzinfo=UTC)


def jpeg(width=1600, height=1200, orientation=1, shade=110) -> bytes:
    image = Image.new("RGB", (width, height), (20, 110, shade))
    ImageDraw.Draw(image).text((50, 50), "gauge", fill="white")
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010E] = "where it was taken"
    out = BytesIO()
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def picture(number: int) -> SimpleUploadedFile:
    return SimpleUploadedFile(f"gauge {number}.jpg", jpeg(shade=number % 256))


def pictures_in(pdf: bytes) -> int:
    return sum(len(page.images) for page in reader_of(pdf).pages)


@pytest.fixture
def visited(world, system):
    """Two items done on one day, with two deficiencies and an impairment found."""
    adopt(world.site, world.owner)
    complete(
        open_of(system, "main-drain"), world.technician, AT, now=NOW,
        details={
            "found": "impairment",
            "impairments": "Control valve of the east branch found shut",
            "noncritical": "Sign missing at the drain",
            "static_gauge_pa": 60 * PSI, "residual_gauge_pa": 50 * PSI,
        },
        files=[picture(20 * number) for number in range(2)],
    )  # fmt: skip
    complete(
        open_of(system, "gauges"), world.technician, AT + timedelta(hours=1), now=NOW,
        details={"found": "critical", "critical": "Gauge reads 40 psi with no pressure on it"},
    )  # fmt: skip
    return system


def visit_of(reader, site, day=DAY):
    return Visit(site, day, reader, NOW)


def test_every_cell_of_a_visit_is_in_the_pdf_and_on_the_page(client, world, visited):
    client.force_login(world.owner)
    paper = visit_paper(visit_of(world.owner, world.site))
    pdf = text_of(paper.pdf())
    response = client.get(reverse("reports:visit", args=[world.site.pk, "2026-05-31"]))
    page = squeezed(text_in(response))
    for cell in cells_of(paper):
        assert squeezed(cell) in pdf
        if "\n" not in cell:
            assert squeezed(cell) in page


def test_findings_stand_under_the_class_they_were_given(world, visited):
    paper = visit_paper(visit_of(world.owner, world.site))
    tables = {section.title: section.blocks[0].rows for section in paper.sections[:3]}
    assert [rows[0][0] for rows in tables.values()] == [
        "Control valve of the east branch found shut",
        "Gauge reads 40 psi with no pressure on it",
        "Sign missing at the drain",
    ]
    assert list(tables) == ["Impairments", "Critical deficiencies", "Noncritical deficiencies"]
    assert paper.big == "3"


def test_what_was_done_stands_by_edition_and_clause(world, visited):
    """NFPA 25 (2017) asks for the main drain in 13.2.5, as the library has it."""
    paper = visit_paper(visit_of(world.owner, world.site))
    section = next(one for one in paper.sections if "NFPA 25 (2017)" in one.title)
    rows = {row[1].split(",")[0]: row for row in section.blocks[0].rows}
    assert rows["Main drain test"][0] == "13.2.5"
    assert "50 psi" in rows["Main drain test"][4].replace("\xa0", " ")
    assert Clause.of("NFPA 25 (2017), 13.2.5. Check the adopted edition.") == Clause(
        "NFPA 25 (2017)", "13.2.5"
    )


def test_left_open_is_what_could_be_done_that_day_and_was_not(world, visited):
    visit = visit_of(world.owner, world.site)
    keys = {row.item.key for row in visit.left_open}
    due = visited.occurrences.filter(opens_at__lt=visit.ended_at, status="open")
    assert keys == {row.item.key for row in due} and "main-drain" not in keys


def test_a_day_without_a_visit_has_no_report(client, world, visited):
    client.force_login(world.owner)
    for day in ("2026-05-30", "yesterday", "2026-13-01"):
        for name in ("reports:visit", "reports:visit-pdf"):
            assert client.get(reverse(name, args=[world.site.pk, day])).status_code == 404


def test_forty_photos_none_and_one_that_is_gone(world, visited):
    others = list(Occurrence.objects.open().with_place().filter(system=visited)[:4])
    for at, occurrence in enumerate(others, start=1):
        complete(
            occurrence, world.technician, AT + timedelta(hours=2), now=NOW,
            files=[picture(50 * at + 4 * number) for number in range(10)],
        )  # fmt: skip
    pdf = visit_paper(visit_of(world.owner, world.site)).pdf()
    assert pictures_in(pdf) == 42 and is_pdf_a_2b(pdf)
    gone = Attachment.objects.first()
    gone.open().close()
    Attachment.objects.filter(pk=gone.pk).update(sha256="0" * 64)
    paper = visit_paper(visit_of(world.owner, world.site))
    assert pictures_in(paper.pdf()) == 41
    assert paper.mark == "The ledger does not hold"
    assert squeezed("The file is gone, or is no longer the one") in text_of(paper.pdf())


def test_photos_are_small_upright_and_tell_no_place():
    small = shrunk(jpeg(1600, 1200, orientation=6))
    with Image.open(BytesIO(small)) as image:
        assert image.size == (LARGEST_PX * 3 // 4, LARGEST_PX)
        assert not image.getexif()
    assert shrunk(b"\xff\xd8\xff\xe0 no picture") == b"" and shrunk(b"") == b""


def test_a_hand_over_tells_gas_steps_photos_and_who_signed(world, system):
    run = make_run(system, world.technician, NOW - timedelta(days=1), (93.0, 99.0))
    fill = run.records.get(kind="inerting.filled", details__fill=1)
    assert "gas_used_m3" not in fill.details
    add_photos(
        run=run, details={"of": "meter", "says": "99.0 % at the far end"}, files=[picture(1)],
        recorded_by=world.technician, now=NOW,
    )  # fmt: skip
    paper = hand_over_paper(run, reader=world.owner, now=NOW)
    text = text_of(paper.pdf())
    assert paper.mark == "The run has not ended"
    for words in ("99 % nitrogen accepted", "99.0 % at the far end", "Returned to service"):
        assert squeezed(words) in text
    assert squeezed("For the owner: name, signature, date") in text
    gas = next(one for one in paper.sections if one.title == "Gas used")
    assert gas.blocks[0].rows == [("In all", "not recorded")]
    for cell in cells_of(paper):
        assert squeezed(cell) in text


def test_gas_that_some_fills_tell_is_added_up_and_the_others_counted(world, system):
    run = make_run(system, world.technician, NOW - timedelta(days=1))
    log_step(
        run=run, step=RunStep(PURGED, 1), details={"pressure_gauge_pa": 0.0},
        recorded_by=world.technician, now=NOW, occurred_at=NOW - timedelta(hours=20),
    )  # fmt: skip
    log_step(
        run=run, step=RunStep("inerting.filled", 2), recorded_by=world.technician, now=NOW,
        details={"pressure_gauge_pa": 30 * PSI, "gas_used_m3": 2.5, "cylinders": "A-17"},
        occurred_at=NOW - timedelta(hours=19), is_kept=True,
    )  # fmt: skip
    world.owner.display_units = "si"
    gas = hand_over_paper(run, reader=world.owner, now=NOW).sections[1].blocks
    assert gas[0].rows[0][1].replace("\xa0", " ") == "2,500 L, and 1 of 2 fills do not say"
    assert gas[1].rows[1][2] == "A-17"


def test_a_signature_drawn_on_the_screen_is_on_the_sheet(world, system):
    run = make_run(system, world.technician, NOW - timedelta(days=1), (99.0,))
    for step, details in (
        ("inerting.final_purge", {"pressure_gauge_pa": 0.0}),
        ("inerting.water_filled", {}),
        (
            "inerting.returned",
            dict.fromkeys(
                ("water_filled", "valves_open", "tested", "signals_back", "notified"), "yes"
            ),
        ),
    ):
        log_step(
            run=run, step=RunStep(step), details=details, recorded_by=world.technician, now=NOW,
            occurred_at=NOW - timedelta(hours=3), is_kept=True,
        )  # fmt: skip
    run.refresh_from_db()
    sign_hand_over(
        run=run, details={"name": "Olive Manager", "way": "screen"}, drawn=drawing(),
        recorded_by=world.technician, now=NOW,
    )  # fmt: skip
    paper = hand_over_paper(run, reader=world.owner, now=NOW)
    pdf = paper.pdf()
    assert paper.mark == "" and pictures_in(pdf) == 1 and is_pdf_a_2b(pdf)
    assert squeezed("Olive Manager, on the screen") in text_of(pdf)
    assert "Fortheowner:name" not in text_of(pdf)


def test_an_order_says_how_to_get_in_and_which_valves_in_which_order(world):
    building = make_building(world.site, "Pump House")
    building.access_note = "Key at the gatehouse, ring 14"
    building.save()
    system = make_system(world.site, world.owner, tag="NQ-150", building=building)
    make_pipe_run(system, world.owner)
    make_record(system, "event.head_break", NOW - timedelta(days=2), world.owner, count=1)
    task = Task.objects.with_place().get(system=system, kind="reinerting_order")
    paper = order_paper(task, reader=world.owner, now=NOW)
    text = text_of(paper.pdf())
    for cell in cells_of(paper):
        assert squeezed(cell) in text
    valves = next(one for one in paper.sections if one.title == "Valves and drains, in order")
    nothing_drawn, steps, missing = valves.blocks
    assert "so nothing can be drawn" in nothing_drawn.text
    assert steps.is_ordered and len(steps.lines) >= 6
    assert "The register does not hold" in missing.text
    assert squeezed("Key at the gatehouse, ring 14") in text


def test_the_drawing_follows_the_order_of_work_and_leaves_a_gap_for_what_is_not_recorded():
    fittings = [
        Fitting(pk=number, kind=kind, label=label, order=order, location=where)
        for number, (kind, label, order, where) in enumerate(
            (
                ("low_point_drain", "LPD-2", 2, ""),
                ("low_point_drain", "LPD-1", 1, "<Hall> 3"),
                ("main_drain", "MD <&> " + "long " * 12, None, "Pump room"),
                ("injection_port", "", None, "At the riser"),
                ("vent", "AV-1", None, "Roof"),
                ("auxiliary_drain", "AD-9", None, ""),
            ),
            start=1,
        )
    ]
    parts = parts_of(fittings)
    assert [(one.number, one.tag) for one in parts] == [
        (1, "no tag"), (2, "not recorded"), (3, fittings[2].label), (4, "AD-9"), (5, "LPD-1"),
        (6, "LPD-2"),
    ]  # fmt: skip
    picture, table = valve_blocks(fittings)
    root = ElementTree.fromstring(picture.svg)
    drawn = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert drawn[1::3][:2] == ["no tag", "not recorded"] and drawn[7].startswith("MD <&> long")
    assert picture.svg.count("stroke-dasharray") == 1
    assert table.rows[4] == ("5", "Low-point drain", "LPD-1", "<Hall> 3")
    assert parts_of([fittings[4]]) == []
    taken_out = Fitting(kind="main_drain", label="MD-0", removed_on=DAY)
    assert parts_of([taken_out]) == []


def test_an_order_with_its_drawing_is_pdf_a(world, system):
    for kind, label in (("control_valve", "CV-רשות"), ("main_drain", "管-1"), ("vent", "AV-1")):
        add_fitting(system=system, recorded_by=world.owner, kind=kind, label=label)
    make_record(system, "event.head_break", NOW - timedelta(days=2), world.owner, count=1)
    task = Task.objects.with_place().get(system=system, kind="reinerting_order")
    pdf = order_paper(task, reader=world.owner, now=NOW).pdf()
    assert is_pdf_a_2b(pdf)
    assert squeezed("A dashed part is not in the register") in text_of(pdf)


def test_a_sheet_of_labels_has_a_code_for_each_system_of_the_reader(client, world, system):
    make_system(world.site, world.owner, tag="רשות-7")
    make_system(world.other_site, world.stranger, tag="IS-1")
    paper = label_paper(world.site, reader=world.viewer, now=NOW)
    labels = paper.sections[0].blocks[1].labels
    assert [one.title for one in labels] == ["NQ-101", "רשות-7"]
    assert all(one.svg.startswith("<svg") for one in labels)
    assert labels[0].words.endswith(system.get_absolute_url())
    client.force_login(world.stranger)
    assert client.get(reverse("reports:labels", args=[world.site.pk])).status_code == 404


def test_day_sheets_are_the_rounds_of_the_page(client, world, system):
    now = timezone.now()
    make_record(system, "event.head_break", now - timedelta(days=2), world.owner, now=now, count=1)
    task = Task.objects.get(system=system, kind="reinerting_order")
    begin = now.replace(hour=9, minute=0, second=0, microsecond=0)
    Task.objects.filter(pk=task.pk).update(
        work_state="booked", starts_at=begin, ends_at=begin + timedelta(hours=2)
    )
    paper = day_paper(world.technician, begin.date(), None, now=now)
    text = text_of(paper.pdf())
    for cell in cells_of(paper):
        assert squeezed(cell) in text
    assert "NQ-101" in text and "1stop,by1crew" in text
    empty = day_paper(world.technician, begin.date() + timedelta(days=300), None, now=now)
    assert squeezed("Nothing is booked on this day.") in text_of(empty.pdf())
