"""What calendars show ahead, and the plan that follows the register and a changed program."""

from datetime import timedelta

import pytest

from registry.services import amend_system
from scheduling.models import JobRun, PlanAsked
from scheduling.recurring.ahead import expected_ahead
from scheduling.recurring.replanning import PLANNING, plan_recurring_work
from tests.factories import make_system
from tests.scheduling.recurring_world import NOW, adopt, complete, open_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(world, system):
    adopt(world.site, world.owner)
    return system


def test_a_year_ahead_holds_the_open_occurrence_and_those_to_follow(world, planned):
    complete(open_of(planned, "gauges"), world.technician, NOW)
    expected = [
        one
        for one in expected_ahead([planned], now=NOW, until=NOW + timedelta(days=366))
        if one.item.key == "gauges"
    ]
    assert [one.slot.due_on.isoformat()[:7] for one in expected][:3] == [
        "2026-07", "2026-08", "2026-09",
    ]  # fmt: skip
    assert [one.is_open for one in expected] == [True] + [False] * (len(expected) - 1)
    assert len(expected) == 12
    assert expected[0].late_at == open_of(planned, "gauges").late_at


def test_what_is_open_ahead_is_what_stands_in_the_schedule(planned):
    expected = expected_ahead([planned], now=NOW, until=NOW)
    ahead = {(one.item.pk, one.slot.due_on) for one in expected if one.is_open}
    assert ahead == set(planned.occurrences.open().values_list("item", "due_on"))


def test_a_system_entered_at_a_site_with_an_edition_is_planned_at_once(world, planned):
    new = make_system(world.site, world.owner, tag="NQ-900", kind="dry")
    assert new.occurrences.open().exists()


def test_a_system_that_becomes_dry_is_asked_for_what_dry_systems_are(world, planned):
    amend_system(system=planned, recorded_by=world.owner, kind="dry", now=NOW)
    assert planned.occurrences.open().filter(item__key="dry-valve-full-trip").exists()
    assert not planned.occurrences.open().filter(item__key="alarm-valve-interior").exists()


def test_a_plan_that_fails_leaves_the_record_standing(world, planned, monkeypatch, caplog):
    def fail(**facts):
        raise RuntimeError("no plan today")

    monkeypatch.setattr("scheduling.receivers.plan_recurring", fail)
    amend_system(system=planned, recorded_by=world.owner, hazard="light", now=NOW)
    assert planned.records.filter(kind="register.amended").exists()
    assert "was not planned again" in caplog.text


def test_planning_everything_passes_over_sites_without_an_edition(world, planned):
    make_system(world.other_site, world.stranger, tag="IS-1")
    plan_recurring_work()
    assert JobRun.objects.get(name=PLANNING).outcome == "1 systems planned"
    assert not PlanAsked.objects.exists()
    assert not world.other_site.systems.get().occurrences.exists()
