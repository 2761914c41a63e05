"""A library that changed: the plans follow by a job that may be lost at any point."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from kombu.exceptions import OperationalError

from scheduling import recurring, tasks
from scheduling.jobs import runs
from scheduling.models import JobRun, OwnItem, PlanAsked
from scheduling.models.jobs import SILENT_FOR
from scheduling.recurring import replanning as asking
from scheduling.recurring.owning import seed_row
from scheduling.recurring.replanning import (
    NIGHTLY,
    PLANNING,
    PlanProgress,
    is_to_be_planned,
    plan_asked,
    plan_what_was_asked,
)
from tests.factories import make_system
from tests.scheduling.ledger import DAY
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


def run_of(name):
    return JobRun.objects.filter(name=name).first()


def test_the_page_saves_and_a_job_plans_after_the_commit(
    client, world, systems, django_capture_on_commit_callbacks, monkeypatch
):
    monkeypatch.setattr(plan_what_was_asked, "apply_async", lambda **_: plan_what_was_asked())
    client.force_login(world.owner)
    address = reverse("scheduling:library-restore", args=[world.owner_organisation.pk, ROW])
    change_library(world)
    plan_asked(lambda: NOW)
    with django_capture_on_commit_callbacks() as callbacks:
        shown = client.post(address, follow=True).content.decode()
    assert "0 of 3 systems so far" in shown
    assert intervals(systems) == ["1 week"] * 3
    schedule = reverse("scheduling:schedule", args=[systems[0].pk])
    assert "still to be planned again" in client.get(schedule).content.decode()
    for callback in callbacks:
        callback()
    assert intervals(systems) == ["1 month"] * 3
    run = run_of(PLANNING)
    assert (run.state, run.done, run.outcome) == ("done", 3, "3 systems planned")
    assert "so far" not in client.get(address.replace(f"rows/{ROW}/restore/", "")).content.decode()


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


def test_without_a_queue_the_change_is_saved_and_planned_at_the_next_look(
    world, systems, monkeypatch, django_capture_on_commit_callbacks
):
    def no_queue(**facts):
        raise OperationalError("connection refused")

    monkeypatch.setattr(plan_what_was_asked, "apply_async", no_queue)
    with django_capture_on_commit_callbacks(execute=True):
        change_library(world)
    assert OwnItem.objects.exists()
    asked = queue(monkeypatch)
    tasks.catch_up()
    assert "plan_what_was_asked" in asked
    plan_what_was_asked()
    assert intervals(systems) == ["1 week"] * 3


def queue(monkeypatch):
    """What is put in the queue, by name."""
    asked = []
    for name in ("assess_all", "plan_recurring_work", "plan_what_was_asked"):
        monkeypatch.setattr(getattr(tasks, name), "delay", lambda name=name: asked.append(name))
    return asked


def test_nightly_jobs_leave_a_row_with_what_came_of_them(world, systems):
    tasks.assess_all()
    tasks.plan_recurring_work()
    assessed, asked = run_of(tasks.ASSESSMENTS), run_of(NIGHTLY)
    assert (assessed.state, assessed.done) == ("done", 3)
    assert "3 systems left out" in assessed.outcome  # they have no pipe
    assert (asked.state, asked.outcome) == ("done", "owners asked for: 1")
    assert run_of(PLANNING).done == 3


def test_a_second_worker_does_not_assess_or_ask_at_the_same_time(world, systems):
    for name in (tasks.ASSESSMENTS, NIGHTLY, PLANNING):
        runs.begin(name, timezone.now())
    tasks.assess_all()
    tasks.plan_recurring_work()
    assert JobRun.objects.count() == 3
    assert not PlanAsked.objects.exists()


def test_what_was_lost_on_the_way_is_asked_for_again(world, monkeypatch):
    asked = queue(monkeypatch)
    tasks.catch_up()
    assert asked == ["assess_all", "plan_recurring_work"]
    runs.begin(tasks.ASSESSMENTS, timezone.now())
    runs.begin(NIGHTLY, timezone.now() - SILENT_FOR - timedelta(seconds=1))
    asked.clear()
    tasks.catch_up()
    assert asked == ["plan_recurring_work"]  # the other one lives


@pytest.mark.parametrize(
    ("state", "ago", "is_missed"),
    [
        ("done", timedelta(hours=24), False),
        ("done", timedelta(hours=26), True),
        ("failed", timedelta(minutes=59), False),
        ("failed", timedelta(minutes=61), True),
        ("lost", timedelta(minutes=1), True),
    ],
)
def test_a_nightly_job_is_missed_when_none_was_done_for_a_day(db, state, ago, is_missed):
    at = NOW - ago
    JobRun.objects.create(
        name="assessments", state=state, worker="w", started_at=at, heartbeat_at=at, ended_at=at
    )
    assert runs.is_missed("assessments", NOW) == is_missed
    assert runs.is_missed("another", NOW + DAY)


def test_the_command_that_sweeps_plans_what_is_waiting_too(world, systems):
    change_library(world)
    said = StringIO()
    call_command("sweep", stdout=said)
    assert "planned again at 3 systems" in said.getvalue()
    assert intervals(systems) == ["1 week"] * 3
