"""A library that changed: the plans follow by a job that may be lost at any point."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.db import transaction
from django.urls import reverse

from registry.models import Job
from scheduling import recurring
from scheduling.jobs import kinds
from scheduling.models import PlanAsked
from scheduling.recurring import replanning as asking
from scheduling.recurring.owning import seed_row
from scheduling.recurring.replanning import (
    PLAN,
    PlanProgress,
    is_to_be_planned,
    plan_asked,
)
from tests.factories import make_system
from tests.jobs import run_job, run_waiting
from tests.scheduling.recurring_world import NOW, adopt

pytestmark = pytest.mark.django_db
ROW = "gauges-wet"


@pytest.fixture
def systems(world):
    made = [make_system(world.site, world.owner, tag=f"NQ-10{number}") for number in range(3)]
    adopt(world.site, world.owner)
    return made


def change_library(world, interval="1 week"):
    """As the page does it, and without a worker."""
    item = asking_row(world, interval)
    return recurring.save_item(
        owner=world.owner_organisation, row=ROW, cells=item, changed_by=world.owner, now=NOW
    )


def asking_row(world, interval):
    seed = seed_row(ROW)
    names = ("title", "group", "condition", "standard", "edition_from", "edition_to", "clause",
             "season", "source", "how_known", "note")  # fmt: skip
    return {
        **{name: getattr(seed, name) for name in names},
        "system_kinds": " ".join(seed.system_kinds), "trigger": "", "anchor": seed.anchor.value,
        "interval": interval, "before": "1 day", "after": "0 days", "is_used": True,
    }  # fmt: skip


def intervals(systems):
    return [each.recurring_items.get(key="gauges").interval for each in systems]


def test_the_page_saves_and_a_job_plans_after_it(client, world, systems):
    client.force_login(world.owner)
    address = reverse("scheduling:library-restore", args=[world.owner_organisation.pk, ROW])
    change_library(world)
    run_waiting(PLAN)
    shown = client.post(address, follow=True).content.decode()
    assert "0 of 3 systems so far" in shown
    assert intervals(systems) == ["1 week"] * 3
    schedule = reverse("scheduling:schedule", args=[systems[0].pk])
    assert "still to be planned again" in client.get(schedule).content.decode()
    run = run_waiting(PLAN)
    assert intervals(systems) == ["1 month"] * 3
    assert (run.state, run.done, run.outcome) == ("done", 3, "3 systems planned")
    assert "so far" not in client.get(address.replace(f"rows/{ROW}/restore/", "")).content.decode()


def test_a_change_asks_for_its_plan_in_its_own_transaction(world, systems):
    Job.objects.all().delete()
    with pytest.raises(RuntimeError), transaction.atomic():
        change_library(world)
        assert Job.objects.filter(kind=PLAN).count() == 1
        raise RuntimeError("the page fails after all")
    assert not Job.objects.filter(kind=PLAN).exists()
    for _ in range(2):
        change_library(world)
    assert Job.objects.filter(kind=PLAN).count() == 1


def test_a_worker_that_dies_leaves_the_rest_to_the_next_which_goes_on_from_there(
    world, systems, monkeypatch
):
    monkeypatch.setattr(asking, "KEPT_EVERY", 1)
    change_library(world)
    planned = []

    def die_at_the_third():
        planned.append(1)
        if len(planned) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        plan_asked(lambda: NOW, die_at_the_third)
    assert PlanProgress.of(world.owner_organisation) == PlanProgress(done=2, total=3)
    assert [is_to_be_planned(each) for each in systems] == [False, False, True]
    assert plan_asked(lambda: NOW) == 1
    assert intervals(systems) == ["1 week"] * 3
    assert PlanProgress.of(world.owner_organisation) is None


def test_a_change_made_meanwhile_is_planned_from_the_first_system(world, systems):
    change_library(world)
    again = iter([lambda: change_library(world, "2 weeks")])

    def once():
        next(again, lambda: None)()

    assert plan_asked(lambda: NOW, once) == 6
    assert intervals(systems) == ["2 weeks"] * 3
    assert not PlanAsked.objects.exists()


def test_one_system_that_cannot_be_planned_does_not_keep_the_rest_waiting(
    world, systems, monkeypatch, caplog
):
    plan = asking.plan_recurring

    def fail_for_the_first(*, system, now):
        if system.pk == systems[0].pk:
            raise RuntimeError("no plan today")
        return plan(system=system, now=now)

    monkeypatch.setattr(asking, "plan_recurring", fail_for_the_first)
    change_library(world)
    assert plan_asked(lambda: NOW) == 2
    assert "was not planned" in caplog.text
    assert not PlanAsked.objects.exists()


def test_nightly_jobs_leave_a_row_with_what_came_of_them(world, systems):
    assessed = run_job(kinds.ASSESSMENTS)
    asked = run_job(kinds.NIGHTLY)
    assert (assessed.state, assessed.done) == ("done", 3)
    assert "3 systems left out" in assessed.outcome  # they have no pipe
    assert (asked.state, asked.outcome) == ("done", "owners asked for: 1")
    assert run_waiting(PLAN).done == 3


def test_the_command_that_sweeps_plans_what_is_waiting_too(world, systems):
    change_library(world)
    said = StringIO()
    call_command("sweep", stdout=said)
    assert "planned again at 3 systems" in said.getvalue()
    assert intervals(systems) == ["1 week"] * 3
