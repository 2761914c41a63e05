"""The risk report: it prints what the page shows, the same bytes for the same ledger and day."""

import re
from datetime import date, timedelta
from io import BytesIO

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import override
from pypdf import PdfReader

from registry.corrosion.assumptions import MODEL_VERSION, assumptions_table
from registry.models import Assessment
from registry.services.assessments import assess_system
from registry.services.assumptions import set_assumption
from registry.templatetags.risk import chance, life, points, signed
from reports import charts
from reports.risk.page import RiskPage
from reports.risk.paper import risk_report_of
from tests.factories import make_pipe_run, make_record, make_system
from tests.kept import Kept
from tests.reports.test_charts import values_of

pytestmark = pytest.mark.thorough

HOSTILE = "#raw *x* <b> $y$ @z"


@pytest.fixture(scope="module")
def now():
    return timezone.now()


def make_watched(world, now):
    """A wet system in the register for four years, with an event and a reading."""
    entered = now - timedelta(days=1500)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-101")
    make_pipe_run(system, world.owner, now=entered)
    make_pipe_run(system, world.owner, now=entered, role="branch_line", nominal_size="1-1/4")
    make_record(
        system, "event.head_break", now - timedelta(days=300), world.owner, now=now, count=1
    )
    make_record(
        system, "reading.wall", now - timedelta(days=200), world.owner, now=now,
        wall_mm=2.4, run_role="cross_main", nominal_size="4",
    )  # fmt: skip
    assess_system(system, now)
    return system


WATCHED = Kept(make_watched)


@pytest.fixture
def watched(world, now):
    return WATCHED(world, now)


def report(system, now, units="us"):
    return risk_report_of(RiskPage(system, units=units, now=now))


def text_of(pdf: bytes) -> str:
    pages = PdfReader(BytesIO(pdf)).pages
    words = " ".join(page.extract_text() for page in pages).replace("\xa0", " ")
    return re.sub(r"\s+", " ", words)


def plain(text: str) -> str:
    return text.replace("\xa0", " ")


def address(system) -> str:
    return reverse("reports:risk-pdf", args=[system.pk])


def test_it_prints_the_score_its_reasons_the_outlook_and_the_model(watched, now):
    page = RiskPage(watched, units="us", now=now)
    text = text_of(report(watched, now).pdf())
    assert f"{points(page.row.score)} {page.row.band}" in text
    assert plain(chance(page.row.leak_in_5_yr)) in text
    assert f"{life(page.row.life_mid_yr)} years" in text
    assert f"by model {MODEL_VERSION}" in text
    for reason in page.drivers:
        assert reason["text"] in text


def test_it_prints_runs_events_measures_and_where_to_look(watched, now):
    page = RiskPage(watched, units="us", now=now)
    text = text_of(report(watched, now).pdf())
    for row in page.runs:
        assert row.label in text
    assert "Head break" in text and [row.record.kind for row in page.events] == ["event.head_break"]
    for option in page.detail.options:
        assert option.text in text
    for point in page.wall_points:
        assert f"{point['label']}, o’clock position {point['clock']}" in text
    assert f"{page.detail.reinspect_at:%B %Y}" in text


def test_its_pictures_are_drawn_from_what_the_page_draws(watched, now):
    page, printed = RiskPage(watched, units="us", now=now), report(watched, now)
    assert printed.fan.chart == page.fan.chart
    assert printed.belief.chart == page.belief.chart
    rows = values_of(charts.spec_of(printed.fan.chart, charts.WIDE))
    assert [row["middle"] for row in rows if "middle" in row] == pytest.approx(
        list(page.fan.chart.middle), rel=1e-4
    )
    text = text_of(printed.pdf())
    assert plain(page.fan.sentence) in text and plain(page.belief.sentence) in text
    for row in page.fan.rows:
        assert " ".join(row) in text


def test_the_words_in_the_pictures_can_be_found_in_the_paper(watched, now):
    text = text_of(report(watched, now).pdf())
    for word in ("1 in 10 more", "the whole wall", "with evidence", "today"):
        assert word in text


def test_every_assumption_is_printed_with_its_standing(watched, owner, now):
    set_assumption(
        system=watched, key="pocket_fill", value=0.3, note="Borescope, two pockets seen",
        recorded_by=owner, now=now,
    )  # fmt: skip
    text = text_of(report(watched, now).pdf())
    for row in assumptions_table():
        if row.editable:
            assert row.key.replace("_", " ") in text
    assert re.search(r"pocket fill 0\.3 m2/m2 set, record \d+: Borescope", text)
    assert "zinc per surface 0.4 kg/m2 published" in text


def test_page_and_paper_say_from_when_no_leak_is_taken_for_granted(
    client, watched, viewer, owner, now
):
    page = RiskPage(watched, units="us", now=now)
    began = watched.day_words(now - timedelta(days=1500))
    assert f"none since the book began ({began})" in page.leak_watch
    assert page.leak_watch in text_of(report(watched, now).pdf()).replace("- ", "")
    client.force_login(viewer)
    assert page.leak_watch in client.get(reverse("reports:risk", args=[watched.pk])).text
    set_assumption(
        system=watched, key="leaks_known_years", value=10.0, note="The owner remembers",
        recorded_by=owner, now=now,
    )  # fmt: skip
    set_later = RiskPage(watched, units="us", now=now)
    assert "10 years before the book began" in set_later.leak_watch
    assert set_later.row.score < page.row.score


def test_it_prints_what_led_to_the_score_and_every_measured_point(watched, now):
    for days in (400, 0):
        assess_system(watched, now - timedelta(days=days))
    page, text = RiskPage(watched, units="us", now=now), text_of(report(watched, now).pdf())
    assert page.bridge and "Why it changed" in text
    for step in page.bridge:
        assert f"{step.text} {signed(step.points)}" in text
    for words, probability in page.channels:
        assert f"{words}, alone {plain(chance(probability))}" in text
    (point,) = page.points
    assert f"{life(point.life_yr)} yr {life(point.interval_yr)} yr" in text
    assert "By the arithmetic of API 570" in text
    (read,) = (row for row in page.runs if row.is_measured)
    assert "in, measured" in text and "in, computed" in text and read.left_mm <= 2.4
    for place in page.wall_points:
        assert place["text"] in text
    assert ("is expected to be worth" in text) or ("would stay the same" in text)
    assert plain(page.other_causes_words) in text


def test_it_names_what_contradicts_the_model(watched, world, now):
    assert "What contradicts the model" not in text_of(report(watched, now).pdf())
    make_record(
        watched, "reading.wall", now - timedelta(days=2), world.owner, now=now, wall_mm=0.4,
        run_role="branch_line", nominal_size="1-1/4", method="full_scan", error_mm=0.05,
        dressed="yes",
    )  # fmt: skip
    text = text_of(report(watched, now).pdf())
    assert "What contradicts the model" in text and "scan around it" in text


def test_after_a_leak_the_paper_speaks_of_the_next(watched, world, now):
    assert "First leak within 1 year" in text_of(report(watched, now).pdf())
    leak = {"through": "water", "air_entered": "no", "form": "pinhole", "run_role": "branch_line"}
    make_record(watched, "event.leak", now - timedelta(days=9), world.owner, now=now, **leak)
    text = text_of(report(watched, now).pdf())
    assert "Next leak within 1 year" in text and "First leak" not in text


def test_it_carries_the_head_of_the_ledger_and_cautions(watched, now):
    text = text_of(report(watched, now).pdf())
    watched.refresh_from_db()
    assert watched.head_hash in text.replace(" ", "")
    assert "A score is an estimate of a model" in text
    assert "the authority having jurisdiction" in text


def test_it_is_pdf_a_2b_and_the_same_bytes_for_the_same_ledger_and_day(watched, now):
    first, second = report(watched, now).pdf(), report(watched, now).pdf()
    assert first == second
    xmp = PdfReader(BytesIO(first)).trailer["/Root"]["/Metadata"].get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in xmp
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in xmp


def test_a_later_hour_of_the_same_day_prints_the_same_report(watched, now):
    assert report(watched, now).pdf() == report(watched, now + timedelta(seconds=1)).pdf()


def test_units_and_paper_follow_the_reader(watched, now):
    us, si = report(watched, now, "us").pdf(), report(watched, now, "si").pdf()
    assert "mil" in text_of(us) and "µm" not in text_of(us)
    assert "µm" in text_of(si)
    sizes = [PdfReader(BytesIO(pdf)).pages[0].mediabox.width for pdf in (us, si)]
    assert [round(float(size)) for size in sizes] == [612, 595]


def test_it_is_dated_by_the_day_it_stands_for(watched, now):
    page = RiskPage(watched, units="us", now=now)
    reader = PdfReader(BytesIO(risk_report_of(page).pdf()))
    assert f"{page.day:D:%Y%m%d}" in reader.metadata["/CreationDate"]


def test_days_and_years_are_in_the_readers_language(watched, now):
    with override("es"):
        text = text_of(report(watched, now).pdf())
    assert not re.search(r"\d (January|April|August|December|years)\b| since ", text)
    assert re.search(r"\d de [a-z]+ de 20\d\d", text) and re.search(r"\d años", text)


def test_a_state_since_installation_is_dated_no_closer_than_that_is_known(world, now):
    system = make_system(
        world.site, world.owner, tag="NQ-186", installed_on=date(1986, 1, 1),
        installed_precision="year",
    )  # fmt: skip
    make_pipe_run(system, world.owner)
    assess_system(system, now)
    text = text_of(report(system, now).pdf())
    assert "Aerated since 1986." in text and "1 January 1986" not in text


def test_a_name_cannot_break_the_page(watched, now):
    watched.tag = HOSTILE
    watched.save()
    assert HOSTILE in text_of(report(watched, now).pdf())


def test_the_page_leads_to_it(client, watched, viewer):
    client.force_login(viewer)
    page = client.get(reverse("reports:risk", args=[watched.pk])).content.decode()
    assert f'href="{address(watched)}"' in page
    response = client.get(address(watched))
    assert response["Content-Type"] == "application/pdf"
    day = Assessment.objects.latest().get(system=watched).as_of
    assert response["Content-Disposition"] == f'inline; filename="risk-nq-101-{day}.pdf"'
    assert response.content.startswith(b"%PDF-")


def test_a_stranger_gets_none(client, watched, stranger):
    client.force_login(stranger)
    assert client.get(address(watched)).status_code == 404


def test_what_was_not_assessed_by_the_ledger_gets_the_page_that_says_why(client, world, owner):
    client.force_login(owner)
    bare = make_system(world.site, world.owner)
    copper = make_system(world.site, world.owner)
    make_pipe_run(copper, world.owner, material="copper", schedule="L")
    for system, why in ((bare, "no pipe of this system"), (copper, "field evidence alone")):
        response = client.get(address(system))
        assert response.status_code == 409
        html = response.content.decode()
        assert why in html and address(system) not in html
        with pytest.raises(LookupError):
            report(system, timezone.now())


def test_a_week_of_waiting_is_printed_where_the_page_tells_it(watched, now):
    page = RiskPage(watched, units="us", now=now)
    assert page.is_worth_telling_delay
    assert "Each week until inert" in dict(risk_report_of(page).document()["outlook"])
    page.row.delay_points_per_week = page.row.delay_um_per_week = 0.0
    assert "Each week until inert" not in dict(risk_report_of(page).document()["outlook"])


def test_no_chance_is_printed_below_nought():
    assert plain(chance(-0.0)) == plain(chance(-1e-17)) == "0.0 %"
