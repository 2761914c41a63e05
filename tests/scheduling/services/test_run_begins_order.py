"""Beginning an inerting run begins the order it answers."""

import pytest

from scheduling import services
from tests.factories import NOW
from tests.scheduling.ledger import DAY
from tests.scheduling.orders_world import HOUR, book, make_order
from tests.world_objects import make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(system):
    return make_order(system)


def run_by(order, person, opened_at=NOW):
    run = make_run(order.system, person, opened_at, readings=())
    order.refresh_from_db()
    return run


def test_a_run_on_a_booked_order_begins_it_and_the_trail_says_why(order, technician):
    book(order, technician, NOW + 20 * HOUR)
    run = run_by(order, technician)
    line = order.trail.get(what="started")
    assert (order.work_state, line.by) == ("started", technician)
    assert line.was == {"state": "booked"}
    number = run.records.get(kind="inerting.started").sequence
    assert line.reason == f"An inerting run was begun: record {number} of the ledger."


def test_a_run_on_an_accepted_order_begins_it(order, technician):
    services.accept(task=order, by=technician, now=NOW)
    run_by(order, technician)
    assert order.work_state == "started"


def test_an_order_nobody_agreed_to_stays_offered(order, technician):
    run_by(order, technician)
    assert order.work_state == "offered"


def test_a_run_of_the_owners_own_people_leaves_the_contractors_order_alone(order, world):
    services.accept(task=order, by=world.technician, now=NOW)
    run_by(order, world.owner)
    assert order.work_state == "accepted"


def test_a_run_that_began_before_what_raised_the_order_does_not_answer_it(order, technician):
    services.accept(task=order, by=technician, now=NOW)
    run_by(order, technician, NOW - 2 * DAY)
    assert order.work_state == "accepted"


def test_an_order_begun_by_hand_is_not_begun_again(order, technician):
    services.accept(task=order, by=technician, now=NOW)
    services.begin(task=order, by=technician, now=NOW)
    run_by(order, technician)
    assert order.trail.filter(what="started").count() == 1


def test_an_order_that_cannot_be_begun_never_blocks_the_run(order, technician, monkeypatch, caplog):
    def fail(**facts):
        raise RuntimeError("no order today")

    monkeypatch.setattr("scheduling.receivers.begin_with_run", fail)
    services.accept(task=order, by=technician, now=NOW)
    run = run_by(order, technician)
    assert (run.status, order.work_state) == ("open", "accepted")
    assert "No order was begun" in caplog.text
