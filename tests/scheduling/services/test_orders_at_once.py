"""Two people at once, on a database that lets them: one wins, and the other is told."""

import pytest
from django.db import connection

from scheduling import services
from scheduling.models import Task, TaskEvent
from scheduling.planning.weeks.accepting import accept_plan, proposals
from scheduling.planning.weeks.proposing import ask_plan, make_plan
from scheduling.services import WorkError
from tests.factories import NOW, make_system, make_user
from tests.scheduling.ledger import DAY, fire
from tests.scheduling.orders_world import HOUR, book, make_crew, make_order
from tests.scheduling.planning_world import MONDAY, order_at
from tests.scheduling.services.test_at_once import at_once

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        connection.vendor == "sqlite",
        reason="a test database in memory has one connection; run with DATABASE_URL of PostgreSQL",
    ),
]
MORNING = NOW.replace(hour=8) + DAY


def attempt(change, **facts):
    """True when it was done, the refusal when it was not."""
    try:
        return bool(change(now=NOW, **facts))
    except WorkError as error:
        return str(error)


def test_of_four_who_accept_at_once_one_wins(system, world):
    order = make_order(system)
    people = [make_user(world.contractor, "recorder") for _ in range(4)]
    jobs = [lambda by=by: attempt(services.accept, task=order, by=by) for by in people]
    outcomes = at_once(*jobs)
    assert outcomes.count(True) == 1
    assert order.trail.filter(what="accepted").count() == 1
    refusals = [outcome for outcome in outcomes if outcome is not True]
    assert all("was first" in refusal for refusal in refusals)


def test_one_crew_booked_for_two_places_at_once_goes_to_one(world):
    crew = make_crew(world.contractor)
    orders = [
        make_order(make_system(world.site, world.owner, tag=f"NQ-20{number}"))
        for number in range(3)
    ]
    jobs = [
        lambda task=task: attempt(
            services.book, task=task, by=world.technician, crew=crew,
            starts_at=MORNING, ends_at=MORNING + 2 * HOUR,
        )
        for task in orders
    ]  # fmt: skip
    outcomes = at_once(*jobs)
    assert outcomes.count(True) == 1
    assert Task.objects.booked().count() == 1
    assert sum("Van 1 is out already" in str(outcome) for outcome in outcomes) == 2


def test_two_who_accept_one_plan_at_once_book_each_job_once(world):
    crew = make_crew(world.contractor, hours="Mon-Sun 6-22", cylinder_places=20)
    for number in range(3):
        order_at(world, f"NQ-30{number}", north_km=number)
    plan = ask_plan(
        organisation=world.contractor, first_on=MONDAY, asked_by=world.technician, now=NOW
    )
    make_plan(plan, lambda: NOW)
    plan.refresh_from_db()
    wanted = {one.task.pk for one in proposals(plan)}
    assert len(wanted) == 3
    people = [make_user(world.contractor, "recorder") for _ in range(2)]
    jobs = [lambda by=by: accept_plan(plan=plan, chosen=wanted, by=by, now=NOW) for by in people]
    outcomes = at_once(*jobs)
    assert sorted(len(one.booked) for one in outcomes) == [0, 3]
    assert Task.objects.booked().filter(crew=crew).count() == 3
    assert TaskEvent.objects.filter(what="booked").count() == 3


def test_a_record_logged_while_an_order_is_booked_loses_neither(system, world):
    order = make_order(system)
    at_once(
        lambda: book(order, world.technician, MORNING),
        lambda: fire(system, NOW - HOUR),
    )
    order.refresh_from_db()
    assert (order.work_state, order.starts_at) == ("booked", MORNING)
    assert order.further_causes.count() == 1


def test_an_escalation_raised_by_three_at_once_is_one(system):
    order = make_order(system)
    late = order.due_at + DAY
    raised = at_once(*[lambda: services.escalate(task=order, now=late)] * 3)
    assert sum(len(each) for each in raised) == 1
    assert order.escalations.count() == 1
