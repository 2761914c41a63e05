"""A backlog of more orders than one plan looks at: how many, and by which rule, is said."""

from datetime import timedelta

import pytest

from scheduling.models import Task
from scheduling.planning.weeks import proposing
from scheduling.planning.weeks.page import board_of
from tests.factories import NOW
from tests.scheduling.orders_world import make_crew
from tests.scheduling.planning_world import MONDAY, make_depot, order_at, state_policy, takes

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew(world):
    state_policy(world.contractor)
    takes(world.contractor, 60)
    depot = make_depot(world.contractor)
    return make_crew(
        world.contractor, "Van 1", world.technician, hours="Mon-Fri 8-17", cylinder_places=20,
        depot=depot,
    )  # fmt: skip


def planned(world):
    plan = proposing.ask_plan(
        organisation=world.contractor, first_on=MONDAY, asked_by=world.technician, now=NOW
    )
    proposing.make_plan(plan, lambda: NOW)
    plan.refresh_from_db()
    return plan


def scattered(world, count: int) -> None:
    """Sites within 25 km of the depot, no two at one place."""
    for number in range(count):
        north, east = (7 * number) % 51 - 25, (11 * number) % 49 - 24
        order_at(world, f"N-{number:03}", north_km=north, east_km=east, volume_m3=0.3)


def test_what_is_beyond_the_most_is_said_with_its_rule(client, world, crew, monkeypatch):
    """The rule with a smaller number, so that the book is small."""
    from scheduling.planning.weeks import page

    for module in (proposing, page):
        monkeypatch.setattr(module, "MOST_PLANNED", 3)
    monkeypatch.setattr(page, "MOST_LISTED", 4)
    scattered(world, 5)
    plan = planned(world)
    assert plan.document["notes"] == [
        "2 more orders wait. They were not looked at: a plan looks at the 3 due soonest."
    ]
    looked_at = list(Task.objects.order_by("due_at", "pk").values_list("pk", flat=True)[:3])
    assert sorted(plan.document["turns"]) == sorted(f"order {pk}" for pk in looked_at)
    board = board_of(world.contractor, MONDAY, now=NOW)
    assert board.not_listed == 1 and not board.is_stale
    client.force_login(world.technician)
    html = client.get(f"/week/?on={MONDAY + timedelta(days=1)}").content.decode()
    assert "1 more order waits, due later than all of these." in html
