"""What was begun and not ended stands first in My work and on the day list of its people."""

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import InertingRun
from registry.runs.planning import opening_answers, plan_for_system
from registry.services.runs import start_run
from scheduling.models import Task, WorkState
from scheduling.orders.under_way import under_way
from tests.factories import PSI, make_record, make_user


@pytest.fixture
def run(system, technician) -> InertingRun:
    answers = opening_answers(system, oxygen=None)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    plan = plan_for_system(system, answers)
    return start_run(system=system, plan=plan, opened_by=technician, opened_at=timezone.now())


@pytest.mark.parametrize("page", ["scheduling:work", "scheduling:day"])
def test_a_run_without_an_order_is_first_for_those_who_began_it(client, world, run, page):
    colleague = make_user(world.contractor, "recorder", "Cal Colleague")
    for person, is_theirs in (
        (world.technician, True), (colleague, True), (world.owner, False), (world.stranger, False)
    ):  # fmt: skip
        client.force_login(person)
        text = client.get(reverse(page)).text
        assert (
            f'<a href="{run.get_absolute_url()}">Inerting run of NQ-101</a>' in text
        ) is is_theirs
    InertingRun.objects.filter(pk=run.pk).update(status=InertingRun.Status.STOPPED)
    client.force_login(world.technician)
    assert "Under way now" not in client.get(reverse(page)).text


def test_the_order_a_run_carries_out_is_not_named_a_second_time(system, technician, run):
    now = timezone.now()
    make_record(system, "event.head_break", now, technician, now=now, count=1)
    begun = Task.objects.filter(system=system)
    assert begun.update(work_state=WorkState.STARTED) > 0
    assert [one.address for one in under_way(technician)] == [run.get_absolute_url()]
    InertingRun.objects.filter(pk=run.pk).update(status=InertingRun.Status.STOPPED)
    mine = Task.objects.open().for_organisations_of(technician)
    assert {one.address for one in under_way(technician)} == {
        task.get_absolute_url() for task in mine
    }
