"""An order with its contractor, whose crews may go; and one of everything for the access test."""

from datetime import timedelta
from typing import Any

from scheduling import services
from scheduling.models import Crew, Depot, Task, WeekPlan
from tests.factories import NOW, make_building, make_user
from tests.scheduling.ledger import DAY, head_break

HOUR = timedelta(hours=1)


def make_crew(organisation, name="Van 1", *people, **facts) -> Crew:
    """With the people given, or with one of its own: a crew of nobody goes nowhere."""
    crew = Crew.objects.create(organisation=organisation, name=name, **facts)
    crew.people.set(people or [make_user(name=f"Mate of {name}")])
    return crew


def make_order(system, now=NOW) -> Task:
    head_break(system, now - DAY, now=now)
    return Task.objects.get(system=system, rule="aerated")


def book(task, by, starts_at, *, hours=3, now=NOW, **facts) -> Task:
    return services.book(
        task=task, starts_at=starts_at, ends_at=starts_at + hours * HOUR, by=by, now=now, **facts
    )


def _plan(world, task) -> WeekPlan:
    return WeekPlan.objects.create(
        organisation=world.contractor, first_on=NOW.date(), asked_at=NOW, asked_by=world.technician
    )


def order_objects(world, task) -> dict[str, dict[str, Any]]:
    """Arguments for each address of orders, crews and rules."""
    crew = make_crew(world.contractor, "Van 1", world.technician)
    owner, pk = {"pk": world.owner_organisation.pk}, {"pk": task.pk}
    contractor, site = {"pk": world.contractor.pk}, {"pk": task.system.site_id}
    plan = {"pk": _plan(world, task).pk}
    depot = Depot.objects.create(organisation=world.contractor, name="Yard")
    return {
        "scheduling:week-plan": contractor,
        "scheduling:week-accept": plan,
        "scheduling:week-drop": plan,
        "scheduling:week-swap": plan | {"task_pk": task.pk},
        "scheduling:week-move": pk,
        "scheduling:planning-policy": contractor,
        "scheduling:planning-import": contractor,
        "scheduling:depot-new": contractor,
        "scheduling:depot-edit": {"pk": depot.pk},
        "scheduling:work-time": contractor | {"kind": "reinerting_order"},
        "scheduling:place-edit": site,
        "scheduling:place-building": site | {"building_pk": make_building(task.system.site).pk},
        "scheduling:task-step": pk | {"step": "decline"},
        "scheduling:task-hand-over": pk,
        "scheduling:task-comment": pk,
        "scheduling:crew-new": {"pk": world.contractor.pk},
        "scheduling:crew-edit": {"pk": crew.pk},
        "scheduling:rules-owner": owner,
        "scheduling:rule-edit": owner | {"rule": "aerated"},
        "scheduling:rule-levels": owner,
        "scheduling:rules-acceptance": owner,
    }
