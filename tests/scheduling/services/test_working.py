"""What people do with follow-ups: accepted, declined, booked, begun, given up, handed over."""

import pytest

from registry.models import ServiceContract
from scheduling import services
from scheduling.models import Task, TaskEvent
from scheduling.services import WorkError
from tests.factories import NOW, make_organisation, make_system, make_user
from tests.scheduling.ledger import DAY, accept, fire, head_break
from tests.scheduling.orders_world import HOUR, book, make_crew, make_order

pytestmark = pytest.mark.django_db
MORNING = NOW.replace(hour=8) + DAY


@pytest.fixture
def order(system):
    return make_order(system)


@pytest.fixture
def crew(world):
    return make_crew(world.contractor, "Van 1", world.technician)


def told(task):
    return list(task.trail.values_list("what", "by__name"))


def test_a_raised_order_is_offered_and_its_trail_begins(order, world):
    assert order.work_state == "offered"
    (line,) = order.trail.all()
    assert (line.what, line.by, line.at) == ("raised", None, NOW)
    assert line.became == {"party": str(world.contractor), "due_at": order.due_at.isoformat()}


def test_accepting_is_noted_with_who_when_from_and_to(order, technician):
    services.accept(task=order, by=technician, now=NOW + HOUR)
    order.refresh_from_db()
    line = order.trail.last()
    assert (order.work_state, line.what, line.by) == ("accepted", "accepted", technician)
    assert (line.was, line.became) == ({"state": "offered"}, {"state": "accepted"})


def test_of_two_who_act_on_the_same_page_one_wins_and_the_other_is_told_who(order, world):
    other = make_user(world.contractor, "recorder", "Rae Recorder")
    services.accept(task=order, by=world.technician, now=NOW, seen=order.turn)
    with pytest.raises(WorkError, match="Tam Technician was first"):
        services.decline(task=order, by=other, now=NOW, reason="Too far", seen=order.turn)
    order.refresh_from_db()
    assert order.work_state == "accepted"
    assert told(order) == [("raised", None), ("accepted", "Tam Technician")]


def test_a_declined_order_is_back_with_the_owner_with_the_reason(order, world):
    services.decline(task=order, by=world.technician, now=NOW, reason="No lift truck before July")
    order.refresh_from_db()
    assert (order.work_state, order.assigned_to) == ("declined", world.owner_organisation)
    assert order.work_reason == "No lift truck before July"
    assert order.is_open
    assert list(Task.objects.refused()) == [order]
    line = order.trail.get(what="declined")
    assert line.became["party"] == "Averhythe Quays"


def test_a_declined_order_stays_with_the_owner_when_the_rules_are_applied_again(order, world):
    services.decline(task=order, by=world.technician, now=NOW, reason="Too far")
    services.reconcile(system=order.system, now=NOW + HOUR)
    fire(order.system, NOW)
    order.refresh_from_db()
    assert (order.work_state, order.assigned_to) == ("declined", world.owner_organisation)


@pytest.mark.parametrize("change", [services.decline, services.give_up])
def test_declining_or_giving_up_without_a_reason_is_refused(order, technician, change):
    services.accept(task=order, by=technician, now=NOW)
    with pytest.raises(WorkError, match="Write why"):
        change(task=order, by=technician, now=NOW, reason=" ")


def test_the_owner_cannot_decline_what_is_its_own(order, world):
    services.hand_over(task=order, party=world.owner_organisation, by=world.owner, now=NOW)
    with pytest.raises(WorkError, match="hand it over instead"):
        services.decline(task=order, by=world.owner, now=NOW, reason="No")


def test_a_booking_moves_the_calendar_and_raises_its_sequence_once(order, technician, crew):
    before = order.sequence
    book(order, technician, MORNING, crew=crew)
    order.refresh_from_db()
    assert (order.starts_at, order.ends_at) == (MORNING, MORNING + 3 * HOUR)
    assert (order.work_state, order.crew) == ("booked", crew)
    assert order.sequence == before + 1


def test_giving_a_booking_to_another_crew_leaves_its_sequence(order, world, technician, crew):
    book(order, technician, MORNING, crew=crew)
    order.refresh_from_db()
    sequence, modified_at = order.sequence, order.modified_at
    second = make_crew(world.contractor, "Van 2")
    services.give_to_crew(task=order, crew=second, by=technician, now=NOW + HOUR)
    order.refresh_from_db()
    assert order.crew == second
    assert order.sequence == sequence
    assert order.modified_at > modified_at


def test_a_booking_keeps_its_time_when_the_rules_are_applied_again(order, technician, crew):
    book(order, technician, MORNING, crew=crew)
    fire(order.system, NOW - HOUR)
    order.refresh_from_db()
    assert order.starts_at == MORNING
    assert order.further_causes.count() == 1


def test_moving_a_booking_says_from_when_to_when(order, technician, crew):
    book(order, technician, MORNING, crew=crew)
    book(order, technician, MORNING + DAY, crew=crew)
    line = order.trail.last()
    assert line.what == "moved"
    assert line.was["starts_at"] == MORNING.isoformat()
    assert line.became["starts_at"] == (MORNING + DAY).isoformat()


def test_giving_up_a_booking_puts_the_time_back_to_what_the_rules_say(order, technician, crew):
    planned = order.starts_at
    book(order, technician, MORNING, crew=crew)
    services.give_up(task=order, by=technician, now=NOW, reason="The riser room is locked")
    order.refresh_from_db()
    assert (order.work_state, order.crew, order.starts_at) == ("cannot", None, planned)
    assert order.work_reason == "The riser room is locked"


def test_a_crew_is_not_in_two_places_at_once(order, world, technician, crew):
    elsewhere = make_order(make_system(world.site, world.owner, tag="NQ-102"))
    book(order, technician, MORNING, crew=crew)
    with pytest.raises(WorkError, match="Van 1 is out already: Re-inerting order, NQ-101"):
        book(elsewhere, technician, MORNING + 2 * HOUR, crew=crew)
    book(elsewhere, technician, MORNING + 3 * HOUR, crew=crew)


def test_a_crew_given_a_booking_must_be_free(order, world, technician, crew):
    second = make_crew(world.contractor, "Van 2")
    elsewhere = make_order(make_system(world.site, world.owner, tag="NQ-102"))
    book(order, technician, MORNING, crew=crew)
    book(elsewhere, technician, MORNING, crew=second)
    with pytest.raises(WorkError, match="Van 1 is out already"):
        services.give_to_crew(task=elsewhere, crew=crew, by=technician, now=NOW)


def test_a_crew_whose_work_was_closed_is_free_again(order, world, technician, crew):
    elsewhere = make_order(make_system(world.site, world.owner, tag="NQ-102"))
    book(order, technician, MORNING, crew=crew)
    accept(order.system, NOW)
    book(elsewhere, technician, MORNING, crew=crew)


def test_a_booking_needs_a_crew_where_there_are_any_and_one_of_its_own(order, technician, crew):
    with pytest.raises(WorkError, match="Say which crew of Pellmoor"):
        book(order, technician, MORNING)
    foreign = make_crew(make_organisation("contractor", "Dunlore Sprinkler Services"))
    with pytest.raises(WorkError, match="not a crew of Pellmoor"):
        book(order, technician, MORNING, crew=foreign)


def test_without_crews_a_time_alone_is_booked(order, technician):
    book(order, technician, MORNING)
    order.refresh_from_db()
    assert order.work_state == "booked"


def test_a_late_booking_needs_a_reason_which_is_kept(order, technician):
    late = order.due_at + DAY
    with pytest.raises(WorkError, match="say why"):
        book(order, technician, late)
    book(order, technician, late, reason="The shed is shut until then")
    assert order.trail.last().reason == "The shed is shut until then"


def test_begun_work_is_still_closed_by_the_ledger_alone(order, technician):
    services.accept(task=order, by=technician, now=NOW)
    services.begin(task=order, by=technician, now=NOW)
    accept(order.system, NOW)
    order.refresh_from_db()
    assert (order.work_state, order.status) == ("started", "done")
    assert order.trail.last().what == "done"


def test_nothing_can_be_done_with_what_is_closed(order, technician):
    accept(order.system, NOW)
    with pytest.raises(WorkError, match="It is done already"):
        services.accept(task=order, by=technician, now=NOW)


def test_handing_over_offers_it_afresh(order, world):
    second = make_organisation("contractor", "Dunlore Sprinkler Services")
    ServiceContract.objects.create(site=world.site, contractor=second, starts_on="2019-01-01")
    services.decline(task=order, by=world.technician, now=NOW, reason="Too far")
    services.hand_over(task=order, party=second, by=world.owner, now=NOW, reason="Please")
    order.refresh_from_db()
    assert (order.work_state, order.assigned_to, order.work_reason) == ("offered", second, "")
    assert order.trail.last().reason == "Please"


def test_handing_over_to_somebody_who_does_not_serve_the_site_names_who_may(order, world):
    stranger = make_organisation("contractor", "Dunlore Sprinkler Services")
    with pytest.raises(WorkError, match="Averhythe Quays, Pellmoor Fire Protection may"):
        services.hand_over(task=order, party=stranger, by=world.owner, now=NOW)


def test_a_contract_that_ends_offers_the_booked_work_to_the_owner(order, world, technician):
    book(order, technician, MORNING)
    ServiceContract.objects.update(ends_on=(NOW - DAY).date())
    services.reconcile(system=order.system, now=NOW)
    order.refresh_from_db()
    assert (order.work_state, order.assigned_to) == ("offered", world.owner_organisation)
    assert order.starts_at != MORNING
    assert "contracts in force" in order.trail.get(what="reassigned").reason


def test_the_same_cause_again_opens_the_order_as_offered(order, world, technician):
    services.accept(task=order, by=technician, now=NOW)
    run = accept(order.system, NOW - HOUR)
    from registry.services import withdraw

    withdraw(record=run, reason="Wrong system", recorded_by=world.owner, now=NOW)
    order.refresh_from_db()
    assert (order.status, order.work_state) == ("open", "offered")
    assert [what for what, _ in told(order)] == ["raised", "accepted", "done", "reopened"]


def test_a_comment_is_a_line_of_the_trail(order, viewer):
    services.comment(task=order, text="Key at the gate", by=viewer, now=NOW)
    line = order.trail.last()
    assert (line.what, line.reason, line.by) == ("commented", "Key at the gate", viewer)
    with pytest.raises(WorkError):
        services.comment(task=order, text=" ", by=viewer, now=NOW)


def test_a_new_assessment_moves_the_due_date_and_the_old_one_stays_on_the_trail(order, system):
    due_at = order.due_at
    latest = system.assessments.latest().get()
    latest.delay_points_per_week, latest.digest = 1.75, "another"
    latest.save()
    services.reconcile(system=system, now=NOW)
    order.refresh_from_db()
    assert order.due_on == (NOW + 2 * DAY).date()  # half a point at 1.75 a week
    line = order.trail.get(what="redated")
    assert line.was == {"due_at": due_at.isoformat()}
    assert "costs 1.8 score points" in line.reason
    before = order.trail.count()
    services.reconcile(system=system, now=NOW + 5 * DAY)
    order.refresh_from_db()
    assert order.due_on == (NOW + 2 * DAY).date()
    assert order.trail.count() == before


def test_every_kind_of_line_is_used_by_some_change():
    assert {what.value for what in TaskEvent.What} == {
        "raised", "accepted", "declined", "booked", "moved", "crewed", "started", "cannot",
        "reassigned", "redated", "escalated", "commented", "done", "withdrawn", "reopened",
    }  # fmt: skip


def test_head_breaks_at_other_systems_touch_no_booking(order, world, technician):
    book(order, technician, MORNING)
    head_break(make_system(world.site, world.owner, tag="NQ-102"), NOW - HOUR)
    order.refresh_from_db()
    assert order.work_state == "booked"
