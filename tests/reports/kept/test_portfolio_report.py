"""The report of a portfolio and of a site: what the page shows is what the paper says, as of any
day, by what the book knew then or learnt later."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.assess.clock import end_of
from registry.models import Record, System
from registry.money import assumed_per_m
from registry.services.assessments import assess_system
from registry.services.desk import set_prices
from registry.templatetags.risk import points, signed
from reports.kept.asked import Asked, AskedForm
from reports.kept.choosing import chosen_systems, systems_of
from reports.kept.collecting import Collected
from reports.kept.money_source import sums
from reports.kept.portfolio import paper_of
from reports.kept.standing import standings
from reports.portfolio.rows import rows_of
from tests.factories import make_pipe_run, make_record, make_site, make_system
from tests.kept import Kept
from tests.reports.kept.reading import (
    cells_of,
    is_pdf_a_2b,
    reader_of,
    squeezed,
    text_in,
    text_of,
)


@pytest.fixture(scope="module")
def now():
    return timezone.now()


def make_two_sites(world, now):
    """Three systems entered four years ago; one had a head break half a year ago."""
    entered = now - timedelta(days=1500)
    south = make_site(world.owner_organisation, world.contractor, name="South Quay")
    systems = [
        make_system(world.site, world.owner, now=entered, tag="NQ-101"),
        make_system(world.site, world.owner, now=entered, tag="NQ-102", kind="dry"),
        make_system(south, world.owner, now=entered, tag="SQ-201"),
    ]
    for one in systems[:2]:
        make_pipe_run(one, world.owner, now=entered)
    at = now - timedelta(days=180)
    make_record(systems[0], "event.head_break", at, world.owner, now=at, count=1)
    for one in systems:
        assess_system(one, now)
    return systems


TWO_SITES = Kept(make_two_sites)


@pytest.fixture
def systems(world, now):
    return TWO_SITES(world, now)


def collected(reader, now, asked=None, query=None):
    chosen = chosen_systems(reader, query or {}, now)
    return Collected(
        chosen.keys, asked or Asked.of_today(now), reader, now, chosen_by=chosen.words,
        owners=chosen.owners,
    )  # fmt: skip


def test_every_cell_of_the_report_is_in_the_pdf_and_on_the_page(client, world, systems, now):
    client.force_login(world.owner)
    paper = paper_of(collected(world.owner, now))
    pdf = text_of(paper.pdf())
    page = squeezed(text_in(client.get(reverse("reports:portfolio-report"))))
    for cell in cells_of(paper):
        assert squeezed(cell) in pdf
        if "tlog" not in cell and "\n" not in cell:
            assert squeezed(cell) in page


def test_it_says_what_the_portfolio_says_of_each_system_today(world, systems, now):
    rows = {row.system.pk: row for row in collected(world.owner, now).rows}
    listed = rows_of(list(rows), world.owner, now, since=None, columns={"life"}, is_drawn=False)
    for shown in (one.system for one in listed):
        row = rows[shown.pk]
        assert row.state == shown.atmosphere_state
        assert row.protection_state == (shown.protection_state or "not_known")
        assert row.score == pytest.approx(shown.score, abs=1e-9)
        assert row.life_mid_yr == pytest.approx(shown.life_mid_yr)


def test_the_steps_add_up_from_the_scores_then_to_the_scores_now(world, systems, now):
    told = collected(world.owner, now).bridge
    assert told.systems == 2
    assert told.before + sum(step.points for step in told.steps) == pytest.approx(told.after)
    assert {"time", "events"} <= {step.code for step in told.steps}


def test_a_day_before_the_event_tells_the_system_as_it_was(world, systems, now):
    before = (now - timedelta(days=200)).date()
    asked = Asked(before, before - timedelta(days=365), now.date(), now=now)
    earlier = {row.system.tag: row for row in collected(world.owner, now, asked).rows}
    later = {row.system.tag: row for row in collected(world.owner, now).rows}
    assert not any(item.kind == "event.head_break" for item in earlier["NQ-101"].book.records)
    assert earlier["NQ-101"].score < later["NQ-101"].score


def test_what_was_learnt_later_is_told_only_by_what_is_known_now(world, systems, now):
    """A wall reading of 300 days ago that was written down yesterday."""
    at, told = now - timedelta(days=300), now - timedelta(days=1)
    make_record(
        systems[0], "reading.wall", at, world.owner, now=told, wall_mm=1.2,
        run_role="cross_main", nominal_size="4",
    )  # fmt: skip
    day = (now - timedelta(days=250)).date()
    until = end_of(day)
    key = [systems[0].pk]
    (then,) = standings(key, until=until, learnt_by=until)
    (today,) = standings(key, until=until, learnt_by=end_of(now.date()))
    assert "reading.wall" not in then.kinds and "reading.wall" in today.kinds
    assert today.score > then.score
    asked = Asked(now.date(), day, now.date(), now=now)
    change = next(one for one in collected(world.owner, now, asked).changes if one.before)
    learnt = next(step for step in change.steps if step.code == "learnt")
    assert learnt.points == pytest.approx(today.score - then.score)


def test_of_a_day_before_the_book_nothing_is_made_up(world, systems, now):
    day = (now - timedelta(days=1600)).date()
    asked = Asked(day, day - timedelta(days=365), now.date(), now=now)
    report = collected(world.owner, now, asked)
    assert all(row.score is None for row in report.rows)
    assert "The book kept nothing of it by that day." in [one.words for one in report.unknowns]
    assert "no system here had a score" in paper_of(report).sections[1].blocks[0].text


def test_the_filters_of_the_portfolio_choose_what_it_is_of(client, world, systems, now):
    report = collected(world.owner, now, query={"kind": "dry"})
    assert [row.system.tag for row in report.rows] == ["NQ-102"]
    assert paper_of(report).place.startswith("Of what is chosen in the portfolio today. Kind: Dry")
    client.force_login(world.owner)
    page = client.get(reverse("reports:portfolio-report"), {"kind": "dry", "since": "2024-01-01"})
    text = text_in(page)
    assert "NQ-102" in text and "NQ-101" not in text and "SQ-201" not in text
    assert 'name="kind" value="dry"' in page.content.decode()
    pdf = f"{reverse('reports:portfolio-report-pdf')}?kind=dry&amp;since=2024-01-01"
    assert pdf in page.content.decode()


def test_days_that_cannot_be_meant_are_refused_field_by_field(client, world, systems):
    client.force_login(world.owner)
    asked = {"as_of": "2999-01-01", "since": "nonsense"}
    for name in ("reports:portfolio-report", "reports:portfolio-report-pdf"):
        response = client.get(reverse(name), asked)
        text = text_in(response)
        assert response.status_code == 422
        assert "This day has not come; give " in text and "Enter a valid date" in text
        assert 'value="2999-01-01"' in response.content.decode()
    form = AskedForm({"as_of": "2026-01-01", "since": "2026-01-01"}, now=timezone.now())
    assert not form.is_valid() and "give an earlier one" in form.errors["since"][0]


def test_a_site_report_is_of_that_site_with_its_address(world, systems, now):
    chosen = systems_of(world.site, world.viewer)
    report = Collected(
        chosen.keys, Asked.of_today(now), world.viewer, now, site=world.site, owners=chosen.owners
    )
    text = text_of(paper_of(report).pdf())
    assert squeezed("1 Quay Road") in text and "NQ-101" in text and "SQ-201" not in text


def test_events_late_work_and_measures_are_those_of_the_book(world, systems, now):
    report = collected(world.owner, now)
    broken = next(row for row in report.events if row.record.kind == "event.head_break")
    assert broken.system.tag == "NQ-101"
    text = text_of(paper_of(report).pdf())
    assert signed(broken.points, 2) in text
    overdue = systems[0].tasks.open().filter(due_at__lt=now)
    assert {row.what for row in report.late if row.system == systems[0]} == {
        task.title for task in overdue
    }
    best = report.helps[0]
    assert best.option.points == max(one.option.points for one in report.helps)
    assert points(best.option.score) in text


def test_money_is_what_the_owner_pays_and_the_pages_count_with(world, systems, now):
    set_prices(owner=world.owner_organisation, currency="kr", leak_incident=40_000)
    report = collected(world.owner, now)
    row = next(one for one in report.rows if one.system.tag == "NQ-101")
    listed = rows_of([row.system.pk], world.owner, now, since=None, is_drawn=False)
    a_year = report.money.a_year(row)
    assert a_year.value == pytest.approx(listed[0].loss) and not a_year.is_assumed
    assert sum(one.value for one in report.money.by_year(row)) == pytest.approx(5 * a_year.value)
    by_code = {one.option.code: one.option for one in report.helps if one.standing is row}
    visit = report.money.price(row, by_code["inert_now"])
    assert visit.marked == "kr\u00a01,500*"  # assumed: the owner gave none
    assert report.money.price(row, by_code["treat_water"]) is None
    replaced = row.book.runs[by_code["replace_run"].run]
    price = report.money.price(row, by_code["replace_run"])
    assert price.value == pytest.approx(assumed_per_m(replaced.nominal_size) * replaced.length_m)
    broken = next(one for one in report.events if one.record.kind == "event.head_break")
    assert 0 < report.money.added(broken.standing, broken.points).value <= a_year.value
    text = text_of(paper_of(report).pdf())
    for amount in (a_year, visit, price):
        assert squeezed(amount.marked) in text
    total = next(sums(report.money.a_year(one) for one in report.rows if one.score))
    assert squeezed(f"expected to cost {total.marked} a year") in text
    assert squeezed("* A price in it is assumed") in text


def test_what_buys_most_years_for_the_money_comes_first(world, systems, now):
    report = collected(world.owner, now)
    section = next(
        one for one in paper_of(report).sections if one.title == "Where money buys most life"
    )
    priced = [one for one in report.helps if report.money.price(one.standing, one.option)]
    bought = [
        (one.option.years_gained or 0) / report.money.price(one.standing, one.option).value
        for one in priced
    ]
    best = priced[bought.index(max(bought))]
    first = section.blocks[0].rows[0]
    assert first[1].startswith(best.system.tag) and first[0].startswith(best.option.text)
    assert len(section.blocks[0].rows) == len(priced)


def test_an_auditor_of_a_period_reads_of_no_event_outside_of_it(world, systems, now):
    access = world.owner_organisation.audit_access_given.get()
    access.happened_before = now - timedelta(days=400)
    access.save()
    assert not collected(world.auditor, now).events
    assert collected(world.owner, now).events


def test_a_ledger_that_does_not_hold_marks_every_page(world, systems, now):
    Record.objects.filter(system=systems[0], kind="event.head_break").update(details={"count": 9})
    report = collected(world.owner, now)
    assert any("NQ-101" in line for line in report.verdict.found)
    pages = reader_of(paper_of(report).pdf()).pages
    assert all("The ledger does not hold" in page.extract_text() for page in pages)


def test_it_is_pdf_a_and_the_same_bytes_for_the_same_day(world, systems, now):
    first, second = (paper_of(collected(world.owner, now)).pdf() for _ in range(2))
    assert first == second
    assert is_pdf_a_2b(first)


def test_units_and_paper_follow_the_reader(world, systems, now):
    """A4 is 210 mm wide, Letter 8.5 in (ISO 216, ANSI Y14.1); a point is 1/72 in."""
    widths = {"si": 210 / 25.4 * 72, "us": 8.5 * 72}
    for units, width in widths.items():
        world.owner.display_units = units
        pdf = paper_of(collected(world.owner, now)).pdf()
        assert float(reader_of(pdf).pages[0].mediabox.width) == pytest.approx(width, abs=0.5)
        assert ("mil" in text_of(pdf)) == (units == "us")


def test_hostile_and_foreign_names_are_printed_as_they_are(world, systems, now):
    names = ("#raw *x* <b> $y$ @z", "רשות הנמל", "محمد عبد", "Ł" * 60)
    for number, name in enumerate(names):
        make_system(world.site, world.owner, tag=name[:60], now=now - timedelta(days=number))
    pdf = paper_of(collected(world.owner, now)).pdf()
    text = text_of(pdf)
    assert squeezed(names[0]) in text and names[3] in text
    assert "□" not in text and is_pdf_a_2b(pdf)


def test_nobody_sees_a_system_that_is_not_theirs(client, world, systems):
    client.force_login(world.stranger)
    text = text_in(client.get(reverse("reports:portfolio-report")))
    assert "NQ-101" not in text and "North Quay" not in text
    pdf = client.get(reverse("reports:portfolio-report-pdf"))
    assert pdf.status_code == 200 and "NQ-101" not in text_of(pdf.content)


def test_it_takes_as_many_queries_for_many_systems_as_for_few(
    world, systems, now, django_assert_max_num_queries
):
    for number in range(12):
        make_pipe_run(make_system(world.site, world.owner, tag=f"NQ-3{number:02d}"), world.owner)
    assert System.objects.count() >= 15
    with django_assert_max_num_queries(90):
        paper_of(collected(world.owner, now))


def test_of_too_many_systems_a_job_makes_it(client, world, systems, monkeypatch):
    monkeypatch.setattr("reports.views.kept.MOST_NOW", 2)
    client.force_login(world.owner)
    for name in ("reports:portfolio-report", "reports:portfolio-report-pdf"):
        text = text_in(client.get(reverse(name)))
        assert "These are 3 systems" in text and "Where the risk is" not in text


def test_the_day_it_is_of_names_the_file(client, world, systems):
    client.force_login(world.owner)
    response = client.get(reverse("reports:portfolio-report-pdf"), {"as_of": "2026-01-31"})
    assert response["Content-Disposition"] == 'inline; filename="portfolio-report-2026-01-31.pdf"'
    assert date.fromisoformat("2026-01-31") <= timezone.now().date()
