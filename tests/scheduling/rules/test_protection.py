"""Protection that is not back, from the record to whoever must hear of it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from scheduling.models import Message, Task
from scheduling.orders.board import groups_of, work_order
from tests.factories import make_pipe_run, make_record
from tests.restoration import RESTORED
from tests.scheduling.ledger import DAY, head_break

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
START = {
    "start_n2_percent": 79.05,
    "feed_n2_percent": 100.0,
    "target_n2_percent": 98.0,
    "fill_gauge_pa": 2e5,
}
MET = {"fill": 1, "n2_percent": 98.6, "target_n2_percent": 98.0}


@pytest.fixture
def now():
    return timezone.now().replace(minute=0, second=0, microsecond=0)


def step(system, name, at, now, **details):
    return make_record(system, f"inerting.{name}", at, now=now, **details)


def open_works(system):
    return set(system.tasks.open().values_list("kind", flat=True))


def drained_and_accepted(system, now):
    head_break(system, now - DAY, now=now)
    step(system, "started", now - 5 * HOUR, now, **START)
    step(system, "accepted", now - 4 * HOUR, now, **MET)


def test_a_run_under_way_asks_for_no_restoration_of_its_own(system, now):
    head_break(system, now - DAY, now=now)
    step(system, "started", now - 5 * HOUR, now, **START)
    assert open_works(system) == {"reinerting_order"}


@pytest.mark.parametrize("answer", ["no", "unknown"])
def test_one_no_at_the_return_raises_it_in_the_same_transaction(system, now, answer):
    drained_and_accepted(system, now)
    step(system, "returned", now - HOUR, now, **(RESTORED | {"valves_open": answer}))
    task = Task.objects.open().get(system=system, kind="restore_protection")
    assert "control valves open" in task.why
    assert {"reinerting_order", "restore_protection"} <= open_works(system)


def test_a_run_stopped_after_acceptance_leaves_order_and_protection_open(system, now):
    drained_and_accepted(system, now)
    step(system, "stopped", now - HOUR, now, reason="Night", left_as="drained, valve shut")
    assert {"reinerting_order", "restore_protection"} <= open_works(system)


def test_the_order_closes_at_the_return_to_service_and_not_before(system, now):
    drained_and_accepted(system, now)
    order = system.tasks.get(kind="reinerting_order")
    assert order.status == "open"
    assert "waits for the return to service" in order.why
    back = step(system, "returned", now - HOUR, now, **RESTORED, ends="all")
    order.refresh_from_db()
    assert (order.status, order.closed_by) == ("done", back)
    assert "restore_protection" not in open_works(system)


def test_owner_and_contractor_are_both_told(system, world, now):
    make_record(system, "event.valve_closed", now - HOUR, now=now, valve="CV-1")
    task = system.tasks.open().get(kind="restore_protection")
    assert task.assigned_to == world.contractor
    told = set(Message.objects.filter(task=task).values_list("person", flat=True))
    assert {world.owner.pk, world.technician.pk} <= told


def test_it_comes_first_in_the_list(client, system, world, now):
    head_break(system, now - 60 * DAY, now=now)
    make_record(system, "event.impairment_end", now - 50 * DAY, now=now, **RESTORED)
    make_record(system, "event.leak", now - HOUR, now=now, form="joint", through="water",
                air_entered="no", out_of_service="yes")  # fmt: skip
    make_record(
        system, "event.impairment_end", now - HOUR / 2, now=now, **(RESTORED | {"notified": "no"})
    )
    first = work_order(Task.objects.open(), world.owner, now).first()
    assert first.kind == "restore_protection"
    assert groups_of([first], now)[0].code == "protection"
    client.force_login(world.owner)
    page = client.get(reverse("scheduling:work")).text
    assert "Protection is out" in page


@pytest.mark.parametrize("material", ["copper", "stainless_steel", "cpvc"])
def test_pipe_that_does_not_rust_is_not_urged_to_become_inert(system, world, now, material):
    from registry.models import PipeRun

    make_pipe_run(system, world.owner)
    PipeRun.objects.filter(system=system).update(material=material)
    head_break(system, now - DAY, now=now)
    assert "reinerting_order" not in open_works(system)
    assert "restore_protection" in open_works(system)
