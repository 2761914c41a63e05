from datetime import timedelta

import pytest

from scheduling.models import Task
from tests.factories import NOW, make_record

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
UNKNOWN_DRAIN = {
    "nitrogen_before_opening": "unknown",
    "regulator_above_system": "yes",
    "flow_until_empty": "yes",
    "one_drain_at_a_time": "yes",
    "extent": "whole",
}


def accept(system, when, n2_percent=98.6, by=None):
    return make_record(
        system, "inerting.accepted", when, fill=3, n2_percent=n2_percent, target_n2_percent=98.0
    )


def head_break(system, when, **kwargs):
    return make_record(system, "event.head_break", when, count=1, **kwargs)


def read(system, when, n2_percent):
    return make_record(system, "reading.gas", when, n2_percent=n2_percent)


def open_titles(system):
    return sorted(system.tasks.open().values_list("title", flat=True))


def test_a_system_entered_into_the_register_raises_no_order(system):
    assert not Task.objects.exists()


def test_an_aerating_event_raises_an_order_to_the_contractor_of_the_site(system, world):
    event = head_break(system, NOW - DAY)
    order = Task.objects.get()
    assert (order.kind, order.status) == ("reinerting_order", "open")
    assert order.assigned_to == world.contractor
    assert order.cause == event
    assert "A sprinkler opened" in order.why
