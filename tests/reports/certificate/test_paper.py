"""The certificate of an accepted run: its words, its access, its bytes."""

import re
from datetime import date, timedelta
from io import BytesIO
from uuid import uuid4

import pytest
from django.urls import reverse
from pypdf import PdfReader

from registry.models import InertingRun, OwnerPolicy, System
from registry.runs.planning import opening_answers, plan_for_system
from registry.runs.progress import current_steps
from registry.runs.steps import RunStep
from registry.services.run_beside import sign_hand_over
from registry.services.runs import correct_step, log_step, start_run, stop_run
from reports.certificate.paper import certificate_of
from tests.factories import NOW, PSI, make_pipe_run, make_record, make_system
from tests.kept import Kept
from tests.registry.views.test_run_signature import drawing
from tests.restoration import RESTORED

pytestmark = pytest.mark.thorough

BEGUN = NOW - timedelta(hours=4)
HOSTILE = "#raw *x* <b> $y$ @z ```q"


def begin(system: System, by, **facts) -> InertingRun:
    answers = opening_answers(system, oxygen=None)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    facts = {"analyser": "Hand meter 3", "analyser_calibrated_on": date(2026, 2, 3), **facts}
    return start_run(
        system=system, plan=plan_for_system(system, answers), opened_by=by, opened_at=BEGUN,
        now=NOW, **facts,
    )  # fmt: skip


def log(run, by, token, **details):
    return log_step(
        run=run, step=RunStep.from_token(token), details=details, recorded_by=by,
        occurred_at=BEGUN + timedelta(minutes=2 * run.records.count()), client_key=uuid4(),
        is_kept=True, now=NOW,
    )  # fmt: skip


def accept(run, by, readings=(92.9, 97.6, 99.2), where="Far vent"):
    for fill, n2_percent in enumerate(readings, start=1):
        log(run, by, f"filled-{fill}", pressure_gauge_pa=30 * PSI)
        log(run, by, f"read-{fill}", n2_percent=n2_percent, where=where)
        if n2_percent < run.target_n2_percent:
            log(run, by, f"purged-{fill}", pressure_gauge_pa=0.0)


def give_back(run, by):
    log(run, by, "final_purge", pressure_gauge_pa=0.0)
    log(run, by, "water_filled", pressure_gauge_pa=80 * PSI)
    log(run, by, "returned", **RESTORED)
    run.refresh_from_db()


def make_returned(system, technician):
    run = begin(system, technician)
    accept(run, technician)
    give_back(run, technician)
    return run


RETURNED = Kept(make_returned)


@pytest.fixture
def returned(system, technician):
    return RETURNED(system, technician)


def url(run):
    return reverse("reports:certificate", args=[run.pk])


def text_of(pdf: bytes) -> str:
    pages = PdfReader(BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def words(run, units="us") -> str:
    return text_of(certificate_of(run, units=units).pdf())


def test_another_plan_put_in_place_of_the_one_begun_with_is_told(returned):
    words = "The plan shown here is not the one"
    assert words not in " ".join(certificate_of(returned, units="us").remarks)
    returned.plan["fills"][0]["n2_percent"] = 99.9
    returned.save()
    returned.refresh_from_db()
    assert words in " ".join(certificate_of(returned, units="us").remarks)


def test_it_sets_the_plan_against_what_was_measured(returned):
    text = words(returned)
    for expected in ("99.2 %", "92.9 %", "97.6 %", "30 psi gauge", "Far vent", "93.0 %"):
        assert expected in text
    for planned in returned.plan["fills"]:
        assert f"{planned['low']:.1f} to {planned['high']:.1f} %" in text


def test_it_says_who_when_and_with_what(returned):
    text = words(returned)
    assert "Tam Technician" in text
    assert "Pellmoor Fire Protection" in text
    assert "Averhythe Quays" in text
    assert "1 June 2026, 09:00 BST" in text
    assert "Hand meter 3" in text
    assert "3 February 2026" in text


def test_it_says_that_nothing_more_was_asked_and_that_no_check_is_on_record(returned):
    text = words(returned)
    assert "The owner asked one reading at target and nothing more" in text
    assert "Air check not recorded" in text


def test_it_says_what_the_owner_asked_how_it_was_met_and_who_signed(system, technician):
    OwnerPolicy.objects.create(
        owner=system.site.owner, acceptance_wait_minutes=1, acceptance_points=2,
        acceptance_hold_minutes=15,
    )  # fmt: skip
    run = begin(system, technician)
    checked = {"analyser": "Meter 7", "analyser_calibrated_on": "2026-04-02"}
    log(run, technician, "checked", **checked, air_o2_percent=20.8, zero_o2_percent=0.1)
    log(run, technician, "filled-1", pressure_gauge_pa=90 * PSI)
    log(run, technician, "read-1", n2_percent=98.9, where="Far vent")
    log(run, technician, "read-1", n2_percent=98.2, where="Low drain")
    held = {"start_gauge_pa": 90 * PSI, "end_gauge_pa": 89.8 * PSI, "duration_s": 900.0}
    log(run, technician, "held-1", **held)
    give_back(run, technician)
    said = {"name": "Olive Manager", "role": "for the owner", "way": "screen"}
    sign_hand_over(
        run=run, details=said, drawn=drawing(90, 30), recorded_by=technician, now=NOW,
        client_key=uuid4(),
    )  # fmt: skip
    paper = certificate_of(run, units="us")
    text = text_of(paper.pdf())
    for expected in (
        "Meter 7", "2 April 2026", "20.8 % oxygen, within 20.9 % ± 0.5",
        "0.1 % oxygen, at most 0.3 %", "counts 1 minute after the gas was shut off",
        "2 points, each named", "Far vent 98.9 %; Low drain 98.2 %",
        "Held for 15 minutes: it fell by 0.2 psi; temperature not written down",
        "Olive Manager, for the owner, on the screen", "98.2 %",
    ):  # fmt: skip
        assert expected in text
    drawn = [
        thing
        for page in PdfReader(BytesIO(paper.pdf())).pages
        for thing in (page["/Resources"].get("/XObject") or {}).values()
        if thing["/Subtype"] == "/Image"
    ]
    assert [(thing["/Width"], thing["/Height"]) for thing in drawn] == [(90, 30)]


def test_it_carries_the_hashes_of_the_ledger(returned):
    text = words(returned).replace(" ", "")
    last = current_steps(returned)[-1]
    returned.system.refresh_from_db()
    assert last.hash in text
    assert returned.system.head_hash in text


def test_a_later_record_moves_the_head_and_leaves_the_runs_own_hash(returned, owner):
    last = current_steps(returned)[-1]
    make_record(returned.system, "event.observation", NOW, owner, text="Painted")
    text = words(InertingRun.objects.get(pk=returned.pk)).replace(" ", "")
    returned.system.refresh_from_db()
    assert last.hash in text
    assert returned.system.head_hash in text
    assert last.hash != returned.system.head_hash


def test_it_tells_how_to_drain_without_letting_air_in_and_warns(returned):
    text = words(returned)
    assert "Close the main drain before opening an auxiliary drain" in text
    assert "Nitrogen displaces the air people breathe" in text
    assert "the authority having jurisdiction" in text


def test_the_same_ledger_gives_the_same_bytes(returned):
    first = certificate_of(returned, units="us").pdf()
    again = certificate_of(InertingRun.objects.get(pk=returned.pk), units="us").pdf()
    assert first == again


def test_it_is_pdf_a_2b_dated_by_the_acceptance(returned):
    reader = PdfReader(BytesIO(certificate_of(returned, units="us").pdf()))
    xmp = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in xmp
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in xmp
    assert "2026-06-01" in xmp
    assert len(reader.pages) == 2


def test_every_typeface_is_inside(returned):
    reader = PdfReader(BytesIO(certificate_of(returned, units="si").pdf()))
    fonts = [font for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_units_are_those_of_the_reader(returned):
    assert "2.07 bar gauge" in words(returned, "si")
    assert "30 psi gauge" in words(returned, "us")


def test_hostile_text_is_printed_as_it_was_typed(world, technician):
    system = make_system(world.site, world.owner, tag=HOSTILE)
    make_pipe_run(system, world.owner)
    run = begin(system, technician, analyser=HOSTILE)
    accept(run, technician, where=HOSTILE)
    give_back(run, technician)
    assert words(run).count(HOSTILE) >= 4


def test_a_name_the_typeface_cannot_draw_still_gets_its_certificate(world, technician):
    system = make_system(world.site, world.owner, tag="倉庫 7")
    make_pipe_run(system, world.owner)
    run = begin(system, technician)
    accept(run, technician)
    give_back(run, technician)
    text = words(run)
    assert "□□ 7" in text
    assert "the book holds them" in text


@pytest.mark.parametrize("tag", ["A\x017", "A\x1f7"])
def test_a_sign_nobody_sees_in_a_tag_does_not_keep_the_certificate_away(world, technician, tag):
    system = make_system(world.site, world.owner, tag=tag)
    make_pipe_run(system, world.owner)
    run = begin(system, technician)
    accept(run, technician)
    assert "A□7" in words(run)


def test_questions_and_corrections_are_told(system, technician):
    run = begin(system, technician)
    log(run, technician, "filled-1", pressure_gauge_pa=30 * PSI)
    wrong = log(run, technician, "read-1", n2_percent=84.0)
    correct_step(
        run=run, wrong=wrong, details={"n2_percent": 85.0}, recorded_by=technician, is_kept=True,
        now=NOW,
    )  # fmt: skip
    log(run, technician, "purged-1", pressure_gauge_pa=0.0)
    log(run, technician, "filled-2", pressure_gauge_pa=60 * PSI)
    log(run, technician, "read-2", n2_percent=98.0)
    run.refresh_from_db()
    text = words(run)
    assert "was questioned and kept" in text
    assert "84 % became Nitrogen: 85 %" in text
    assert "not yet returned to service" in text


def test_many_fills_run_on_to_further_pages(system, technician):
    run = begin(system, technician)
    accept(run, technician, readings=(*(90 + 0.25 * n for n in range(24)), 98.6))
    run.refresh_from_db()
    pdf = certificate_of(run, units="us").pdf()
    assert len(PdfReader(BytesIO(pdf)).pages) >= 3
    assert "98.6 %" in text_of(pdf)
    assert "For the owner" in text_of(pdf)


def test_the_page_serves_it_to_those_who_may_see_the_system(client, returned, auditor):
    client.force_login(auditor)
    response = client.get(url(returned))
    assert response["Content-Type"] == "application/pdf"
    assert "inerting-nq-101-2026-06-01.pdf" in response["Content-Disposition"]
    assert response.content.startswith(b"%PDF-")


def test_a_stranger_finds_no_certificate(client, returned, stranger):
    client.force_login(stranger)
    assert client.get(url(returned)).status_code == 404


def test_a_run_under_way_has_no_certificate_yet(client, system, technician):
    run = begin(system, technician)
    client.force_login(technician)
    response = client.get(url(run))
    assert response.status_code == 409
    assert "under way" in response.content.decode()


def test_a_stopped_run_has_no_certificate(client, system, technician):
    run = begin(system, technician)
    accept(run, technician)
    stop_run(
        run=run, reason="Alarm", left_as="Gas in the pipe", recorded_by=technician,
        occurred_at=NOW, now=NOW,
    )  # fmt: skip
    client.force_login(technician)
    assert client.get(url(run)).status_code == 409
