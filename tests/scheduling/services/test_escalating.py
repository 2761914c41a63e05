"""Who hears of what is late: levels of an owner, each raised once by the sweep."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import Membership
from scheduling import services
from scheduling.follow_ups.escalation_levels import levels_of, reached
from scheduling.jobs.sweep import sweep
from scheduling.models import Escalation, EscalationLevel, Task
from scheduling.services import WorkError, escalate
from tests.factories import NOW, make_system, make_user
from tests.scheduling.ledger import DAY, accept
from tests.scheduling.orders_world import make_order

pytestmark = pytest.mark.django_db
Told = EscalationLevel.Told


@pytest.fixture
def order(system):
    return make_order(system)


def raised(order):
    return [(each.level, [str(person) for person in each.people.all()])
            for each in order.escalations.prefetch_related("people")]  # fmt: skip


@pytest.mark.parametrize(("days", "levels"), [(0, []), (1, [1]), (6.9, [1]), (7, [1, 2])])
def test_levels_reached_as_is_usual(order, world, days, levels):
    usual = levels_of(world.owner_organisation)
    found = reached(usual, order.due_at, order.due_at + timedelta(days=days))
    assert [level.level for level in found] == levels


def test_the_sweep_raises_each_level_once(order, world):
    manager = make_user(world.contractor, "manager", "Mo Dispatcher")
    late = order.due_at + DAY
    assert sweep(late).escalated == 1
    assert sweep(late + DAY / 24).escalated == 0
    assert raised(order) == [(1, ["Mo Dispatcher"])]
    sweep(late + 7 * DAY)
    assert raised(order) == [(1, ["Mo Dispatcher"]), (2, ["Olive Manager"])]
    assert manager.escalations.get().late_since == order.due_at


def test_both_levels_are_raised_when_the_sweep_comes_late(order):
    escalate(task=order, now=order.due_at + 30 * DAY)
    assert [level for level, _ in raised(order)] == [1, 2]


def test_an_escalation_is_a_line_of_the_trail(order):
    escalate(task=order, now=order.due_at + DAY)
    line = order.trail.last()
    assert (line.what, line.by) == ("escalated", None)
    assert line.became == {"level": 1, "told": "Tam Technician"}


def test_where_a_contractor_has_no_manager_those_who_do_the_work_hear_of_it(order):
    escalate(task=order, now=order.due_at + DAY)
    assert raised(order) == [(1, ["Tam Technician"])]


def test_what_is_in_time_or_closed_is_not_escalated(order, system):
    assert escalate(task=order, now=order.due_at) == []
    accept(system, NOW)
    assert escalate(task=order, now=order.due_at + 30 * DAY) == []


def test_a_person_who_may_no_longer_see_it_is_not_told(order, world):
    services.set_levels(
        owner=world.owner_organisation,
        levels=[{"after_days": 2, "told": Told.PERSON, "person": world.viewer}],
    )
    Membership.objects.filter(user=world.viewer).delete()
    escalate(task=order, now=order.due_at + 3 * DAY)
    assert raised(order) == [(1, [])]
    assert "nobody" in order.trail.last().became["told"]


def test_levels_must_wait_longer_one_after_the_other(world):
    levels = [
        {"after_days": 3, "told": Told.WORKER, "person": None},
        {"after_days": 3, "told": Told.OWNER, "person": None},
    ]
    with pytest.raises(WorkError, match="more days than the one before"):
        services.set_levels(owner=world.owner_organisation, levels=levels)
    assert not EscalationLevel.objects.exists()


def test_an_escalated_order_says_so_on_its_page(client, order, owner):
    escalate(task=order, now=order.due_at + DAY)
    client.force_login(owner)
    html = client.get(order.get_absolute_url()).content.decode()
    assert "Escalated, level 1" in html
    assert "Tam Technician" in html
    assert Escalation.objects.count() == 1


def test_the_portfolio_names_the_level_and_can_be_narrowed_to_it(client, order, system, world):
    make_system(world.site, world.owner, tag="NQ-102")
    Task.objects.update(due_at=timezone.now() - 2 * DAY)
    escalate(task=order, now=timezone.now())
    client.force_login(world.owner)
    html = client.get(reverse("reports:portfolio"), {"follow_ups": "escalated"}).content.decode()
    assert "escalated to level 1" in html
    assert "NQ-101" in html and "NQ-102" not in html


def test_the_portfolio_can_be_narrowed_to_what_was_declined(client, order, world):
    make_system(world.site, world.owner, tag="NQ-102")
    services.decline(task=order, by=world.technician, now=NOW, reason="Too far")
    client.force_login(world.owner)
    html = client.get(reverse("reports:portfolio"), {"follow_ups": "refused"}).content.decode()
    assert "NQ-101" in html and "NQ-102" not in html
