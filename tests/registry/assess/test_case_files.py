"""The file of a system and its page are the same assessment."""

import json
from datetime import date, timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from registry.assess import assess_cases, case_at
from registry.assess.case_files import case_file_of, scored
from registry.assess.written_case import judged, read_case
from registry.models import Assessment
from registry.services.assessments import assess_system
from registry.services.assumptions import set_assumption
from registry.services.ledger import record
from registry.services.register.systems import amend_system
from reports.risk.page import RiskPage
from tests.factories import make_pipe_run, make_record, make_system


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def wet(world, owner, now):
    """Events, readings by run and by size, a correction, an assumption and a day of leaks."""
    entered = now - timedelta(days=1500)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-9", consequence_class=4)
    main = make_pipe_run(system, world.owner, now=entered, nominal_size="6")
    make_pipe_run(system, world.owner, now=entered, role="branch_line", nominal_size="1-1/4")
    ago = {days: now - timedelta(days=days) for days in (40, 90, 200, 300, 900)}
    make_record(system, "event.head_break", ago[900], world.owner, now=now, count=1)
    leak = {"through": "water", "air_entered": "no", "form": "pinhole"}
    wrong = make_record(system, "event.leak", ago[300], world.owner, now=now, **leak)
    record(
        system=system, kind="event.leak", occurred_at=ago[300], recorded_by=world.owner, now=now,
        details={**leak, "run_role": "branch_line"}, supersedes=wrong,
    )  # fmt: skip
    by_run = {"run": str(main.pk), "run_role": "cross_main", "nominal_size": "6"}
    by_size = {"run_role": "branch_line", "nominal_size": "1-1/4"}
    for days, wall, run in ((200, 2.9, by_run), (90, 2.1, by_size)):
        make_record(system, "reading.wall", ago[days], world.owner, now=now, wall_mm=wall, **run)
    make_record(system, "reading.obstruction", ago[40], world.owner, now=now, finding="slime")
    set_assumption(
        system=system, key="pocket_fill", value=0.6, note="Seen inside", recorded_by=owner, now=now
    )
    amend_system(
        system=system, recorded_by=owner, now=now, leaks_known_since=date(2015, 1, 1),
        service_pressure_gauge_pa=8e5,
    )  # fmt: skip
    assess_system(system, now)
    return system


@pytest.fixture
def dry(world, now):
    entered = now - timedelta(days=800)
    facts = {"kind": "dry", "gas_supply": "generator", "supply_n2_percent": 97.0}
    system = make_system(world.site, world.owner, now=entered, **facts)
    make_pipe_run(system, world.owner, now=entered, material="galvanized_steel")
    trip = {"cause": "unknown", "drained_after": "unknown"}
    make_record(system, "event.trip", now - timedelta(days=100), world.owner, now=now, **trip)
    assess_system(system, now)
    return system


@pytest.mark.parametrize("name", ["wet", "dry"])
def test_the_file_of_a_system_gives_the_numbers_of_its_page(request, name, now):
    system = request.getfixturevalue(name)
    found = judged_file(system, now)
    page = RiskPage(system, units="si", now=now)
    stored = Assessment.objects.latest().get(system=system)
    assert found["score"] == pytest.approx(stored.score, abs=1e-9)
    assert found["leak_in_5_yr"] == pytest.approx(page.row.leak_in_5_yr, abs=1e-12)
    assert found["reasons"] == page.drivers
    assert sum(reason["points"] for reason in found["reasons"]) == pytest.approx(
        found["score"], abs=0.06
    )
    left = {run.uuid: row for run, row in zip(page.case.book.runs, found["runs"], strict=True)}
    for row in page.runs:
        said = left[row.run.uuid]
        assert said["run"] == str(row.run.uuid)
        assert said["wall_left_mm"] == pytest.approx(row.left_mm, abs=1e-6)
        assert said["source"] == ("measured" if row.is_measured else "computed")
    assert [point["left_mm"] for point in found["measured_points"]] == pytest.approx(
        [point.left_um / 1000 for point in page.points]
    )
    assert [point["life_yr"] for point in found["measured_points"]] == [
        point.life_yr for point in page.points
    ]
    assert [place["worth_points"] for place in found["where_to_measure"]] == pytest.approx(
        [place["worth"] for place in page.wall_points]
    )
    assert found["next_look"]["within_yr"] == pytest.approx(page.detail.next_look.years)
    assert {row["source"] for row in found["runs"]} <= {"measured", "computed"}


def judged_file(system, now):
    written = json.loads(json.dumps(case_file_of(system, now)))
    return judged(read_case(written, today=now.date()), more=scored)


def test_the_file_holds_no_names_and_no_notes(wet, now):
    text = json.dumps(case_file_of(wet, now))
    for word in (wet.tag, wet.site.name, wet.site.owner.name, "Seen inside"):
        assert word not in text


def test_the_button_and_the_command_write_the_same_file(client, wet, viewer, stranger, tmp_path):
    address = reverse("reports:risk-case", args=[wet.pk])
    client.force_login(viewer)
    from_page = client.get(address)
    assert from_page["Content-Disposition"].startswith('attachment; filename="case-nq-9-')
    path = tmp_path / "case.json"
    call_command("assess", system="NQ-9", write_case=str(path))
    assert json.loads(path.read_text()) == from_page.json()
    client.force_login(stranger)
    assert client.get(address).status_code == 404


def test_the_data_of_one_system_tell_why_its_score_changed(wet, now, capsys):
    assess_system(wet, now - timedelta(days=400))
    assess_system(wet, now)
    call_command("assess", system="NQ-9", json=True)
    (told,) = json.loads(capsys.readouterr().out)
    steps = sum(step["points"] for step in told["why_it_changed"])
    assert steps == pytest.approx(told["score"] - told["compared_with"]["score"], abs=1e-2)
    assert {"time", "events"} <= {step["code"] for step in told["why_it_changed"]}
    assert len(told["measured_points"]) == 2 and told["where_to_measure"]


def test_the_day_that_stands_with_the_system_says_since_when_leaks_are_known(wet, owner, now):
    given = case_at(wet, now).input
    since = given.book_began_yr - given.assumptions.leaks_known_years
    assert since == pytest.approx(15.0, abs=0.01)  # years since 2000
    set_assumption(
        system=wet, key="leaks_known_years", value=1.0, note="On second thoughts",
        recorded_by=owner, now=now,
    )  # fmt: skip
    assert case_at(wet, now).input.assumptions.leaks_known_years == 1.0
    amend_system(system=wet, recorded_by=owner, now=now, leaks_known_since=date(2024, 1, 1))
    later = case_at(wet, now).input
    assert later.book_began_yr == pytest.approx(24.0, abs=0.01)
    assert later.assumptions.leaks_known_years == 0.0


def test_without_a_day_leaks_are_known_since_the_book_began(dry, now):
    case = case_at(dry, now)
    assert case.input.assumptions.leaks_known_years == 0.0
    said = assess_cases([case])[0].values["evidence"]["leaks_known_from"]
    assert said == f"{now - timedelta(days=800):%Y-%m-%d}"


def test_years_watched_without_a_leak_speak_for_the_pipe(dry, owner, now):
    before = Assessment.objects.latest().get(system=dry).score
    amend_system(system=dry, recorded_by=owner, now=now, leaks_known_since=date(2006, 1, 1))
    assert Assessment.objects.latest().get(system=dry).score < before
