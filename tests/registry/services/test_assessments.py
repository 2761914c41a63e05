"""Assessments stored beside the ledger: when a row is added, refreshed or left alone."""

import logging
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from registry.assess import cost_of_delay
from registry.assess.results import check_finite
from registry.corrosion.assess import assess_one
from registry.models import Assessment, Record, System
from registry.services import amend_site, amend_system
from registry.services import assessments as service
from registry.services.assessments import (
    Which,
    assess_system,
    assess_systems,
    assessed_at_the_end,
)
from scheduling.jobs.kinds import ASSESSMENTS
from tests.factories import NOW, make_pipe_run, make_record, make_system
from tests.jobs import run_job

ENTERED = NOW - timedelta(days=2000)


@pytest.fixture
def wet(world):
    system = make_system(world.site, world.owner, now=ENTERED, tag="NQ-101")
    make_pipe_run(system, world.owner, now=ENTERED)
    return system


NUMBERS = [
    "score", "leak_in_1_yr", "leak_in_5_yr", "leak_in_10_yr", "hazard_5_yr", "life_low_yr",
    "life_mid_yr", "life_high_yr", "delay_points_per_week", "delay_um_per_week",
]  # fmt: skip


def latest(system) -> Assessment:
    return Assessment.objects.latest().get(system=system)


def count(system) -> int:
    return system.assessments.count()


def test_entering_pipe_assesses_the_system_in_the_same_transaction(wet):
    row = latest(wet)
    assert row.as_of == ENTERED.date()
    assert 0 < row.score < 100
    assert row.reasons


def test_a_record_that_changes_nothing_for_the_pipe_adds_no_row(wet, world):
    assess_system(wet, NOW)
    before = count(wet)
    make_record(wet, "event.observation", NOW, world.owner, text="Painted red")
    make_record(wet, "reading.pressure", NOW, world.owner, pressure_gauge_pa=7e5)
    assert count(wet) == before


def test_what_is_told_at_one_go_is_assessed_once_as_of_its_last_record(wet, world):
    before = count(wet)
    with assessed_at_the_end():
        for hours in (3, 2, 1):
            at = NOW - timedelta(days=1, hours=hours)
            make_record(wet, "event.head_break", at, world.owner, now=at, count=1)
            assert count(wet) == before
    assert count(wet) == before + 1
    assert latest(wet).assessed_at == NOW - timedelta(days=1, hours=1)
    make_record(wet, "event.head_break", NOW, world.owner, count=1)
    assert count(wet) == before + 2, "from here on after each record again"


def test_what_failed_on_the_way_is_left_to_the_nightly_run(wet, world):
    before = count(wet)
    with pytest.raises(ZeroDivisionError), assessed_at_the_end():
        make_record(wet, "event.head_break", NOW, world.owner, count=1)
        raise ZeroDivisionError
    assert count(wet) == before
    assess_systems(System.objects.filter(pk=wet.pk), NOW, which=Which.CHANGED)
    assert count(wet) == before + 1


def test_an_event_that_lets_air_in_adds_a_row_and_keeps_the_old(wet, world):
    old = assess_system(wet, NOW)
    make_record(wet, "event.head_break", NOW, world.owner, count=1)
    new = latest(wet)
    old.refresh_from_db()
    assert new.pk != old.pk
    assert not old.is_latest
    assert new.score > old.score


def test_time_refreshes_the_row_within_a_month_and_adds_one_in_the_next(wet):
    first = assess_system(wet, NOW)
    second = assess_system(wet, NOW + timedelta(days=9))
    assert second.pk == first.pk
    assert (second.as_of - first.as_of).days == 9
    third = assess_system(wet, NOW + timedelta(days=40))
    assert third.pk != first.pk
    assert Assessment.objects.filter(pk=first.pk, is_latest=False).exists()


def test_assessing_twice_a_day_changes_nothing(wet):
    assess_system(wet, NOW)
    tally = assess_systems(System.objects.all(), NOW + timedelta(hours=3))
    assert (tally.added, tally.refreshed, tally.unchanged) == (0, 0, 1)
    again = assess_systems(System.objects.all(), NOW, which=Which.ALL)
    assert (again.added, again.refreshed) == (0, 1)


def test_another_model_version_adds_a_row(wet, monkeypatch):
    row = assess_system(wet, NOW)
    Assessment.objects.filter(pk=row.pk).update(model_version="0.9")
    assert assess_system(wet, NOW).pk != row.pk
    assert Assessment.objects.filter(model_version="0.9", is_latest=False).exists()


def test_a_failure_never_blocks_the_record(wet, world, monkeypatch, caplog):
    def fails(*args, **kwargs):
        raise RuntimeError("the model broke")

    monkeypatch.setattr(service, "assess_cases", fails)
    with caplog.at_level(logging.ERROR):
        record = make_record(wet, "event.head_break", NOW, world.owner, count=1)
    assert Record.objects.filter(pk=record.pk).exists()
    assert wet.spans.exists()
    assert "the model broke" in caplog.text


def test_one_refused_system_does_not_keep_the_others_from_their_assessment(wet, world, caplog):
    other = make_system(world.site, world.owner, tag="NQ-102")
    make_pipe_run(other, world.owner)
    System.objects.filter(pk=wet.pk).update(consequence_class=9)
    assess_systems(System.objects.all(), NOW)
    assert latest(other).as_of == NOW.date()
    assert "refused" in caplog.text


def test_many_systems_get_the_numbers_each_gets_alone(world):
    systems = [
        make_system(world.site, world.owner, now=ENTERED, kind=kind, consequence_class=number)
        for number, kind in enumerate(("wet", "dry", "preaction", "antifreeze"), start=1)
    ]
    for system, size in zip(systems, ("4", "6", "2", "1"), strict=True):
        make_pipe_run(system, world.owner, now=ENTERED, nominal_size=size)
        make_pipe_run(system, world.owner, now=ENTERED, role="branch_line", nominal_size="1")
    assess_systems(System.objects.all(), NOW)
    together = {row.system_id: row for row in Assessment.objects.latest()}
    Assessment.objects.all().delete()
    for system in systems:
        alone = assess_system(system, NOW)
        among = together[system.pk]
        assert (alone.digest, alone.band) == (among.digest, among.band)
        for name in NUMBERS:
            assert getattr(alone, name) == pytest.approx(getattr(among, name), rel=1e-9), name


def test_what_is_stored_is_what_the_physics_says(wet):
    from registry.assess import case_at

    row, direct = assess_system(wet, NOW), assess_one(case_at(wet, NOW).input)
    assert row.score == pytest.approx(float(direct.score[0]))
    assert row.leak_in_5_yr == pytest.approx(float(direct.leak_probability[0, 2]))
    assert row.life_mid_yr == pytest.approx(float(direct.life_yr[0, 1]))


def queries_of_assessing_all() -> int:
    with CaptureQueriesContext(connection) as captured:
        assess_systems(System.objects.all(), NOW, which=Which.ALL)
    return len(captured)


def test_the_number_of_queries_does_not_grow_with_the_systems(world):
    counts = []
    for _ in range(3):
        make_pipe_run(make_system(world.site, world.owner), world.owner)
        counts.append(queries_of_assessing_all())
    assert len(set(counts)) == 1


def test_pipe_outside_the_model_has_no_score_until_a_leak_speaks(world):
    system = make_system(world.site, world.owner, now=ENTERED)
    make_pipe_run(system, world.owner, now=ENTERED, material="copper", schedule="L")
    row = assess_system(system, NOW)
    assert (row.basis, row.score, row.band, row.runs) == ("none", None, "", [])
    make_record(
        system, "event.leak", NOW, world.owner, form="pinhole", through="water", air_entered="no"
    )
    row = latest(system)
    assert row.basis == "evidence"
    assert 0 < row.score < 100


def test_withdrawing_all_pipe_leaves_no_latest_assessment(wet, world):
    from registry.services import withdraw

    withdraw(record=wet.pipe_runs.get().record, reason="Wrong system", recorded_by=world.owner)
    assert not wet.assessments.latest().exists()
    assert wet.assessments.exists()


def test_facts_of_system_and_site_reach_the_assessment(wet, world):
    base = assess_system(wet, NOW).score
    amend_system(system=wet, recorded_by=world.owner, consequence_class=5, now=NOW)
    assert latest(wet).score > base
    before = latest(wet).pk
    amend_site(site=world.site, recorded_by=world.owner, water_temperature_k=300.0, now=NOW)
    assert latest(wet).pk != before


def test_the_nightly_task_assesses_every_system(wet):
    run_job(ASSESSMENTS)
    assert latest(wet).as_of > NOW.date()


def test_cost_of_delay_comes_from_the_stored_row(wet, world):
    cost = cost_of_delay(wet)
    assert cost.score_points_per_week == latest(wet).delay_points_per_week > 0
    assert cost.wall_m_per_week == pytest.approx(latest(wet).delay_um_per_week / 1e6)
    assert cost_of_delay(make_system(world.site, world.owner)) is None


def test_nothing_that_is_not_a_number_is_stored():
    for bad in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="a number was expected"):
            check_finite("points", [[1.0, bad]])


@pytest.mark.parametrize(
    "wrong", [{"score": 101.0}, {"band": ""}, {"leak_in_5_yr": 1.2}, {"leak_in_1_yr": 0.99}]
)
def test_the_database_refuses_an_impossible_assessment(wet, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        Assessment.objects.filter(system=wet).update(**wrong)


def test_the_database_refuses_a_second_latest_assessment(wet):
    row = latest(wet)
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
