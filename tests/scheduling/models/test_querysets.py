from datetime import timedelta

import pytest

from scheduling.models import Task
from tests.factories import NOW
from tests.scheduling.ledger import DAY, accept, head_break

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(system):
    head_break(system, NOW - DAY)
    return Task.objects.get()


def test_overdue_begins_at_the_deadline_as_everything_late_does(order):
    assert not Task.objects.overdue(order.due_at - timedelta(seconds=1)).exists()
    assert Task.objects.overdue(order.due_at).get() == order


def test_due_between_includes_the_first_instant_and_not_the_last(order):
    assert Task.objects.due_between(order.due_at, order.due_at + DAY).get() == order
    assert not Task.objects.due_between(order.due_at - DAY, order.due_at).exists()


def test_closed_work_is_neither_open_nor_overdue(order, system):
    accept(system, NOW)
    assert order in Task.objects.closed()
    assert order not in Task.objects.overdue(order.due_at + DAY)


@pytest.mark.parametrize("person", ["owner", "technician", "viewer", "auditor"])
def test_those_who_may_see_the_site_see_its_work(order, world, person):
    assert Task.objects.visible_to(getattr(world, person)).get() == order


def test_a_stranger_sees_none(order, stranger):
    assert not Task.objects.visible_to(stranger).exists()


@pytest.mark.parametrize(
    ("person", "may"),
    [("owner", True), ("technician", True), ("viewer", False), ("auditor", False)],
)
def test_only_those_who_record_may_work_on_it(order, world, person, may):
    assert Task.objects.recordable_by(getattr(world, person)).exists() is may


def test_what_my_own_organisation_is_to_do(order, world):
    assert Task.objects.for_organisations_of(world.technician).get() == order
    assert not Task.objects.for_organisations_of(world.owner).exists()
