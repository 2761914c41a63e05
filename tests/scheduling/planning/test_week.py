"""A week planned from the book, shown, accepted in whole or in part, and nothing booked twice."""

from datetime import timedelta

import pytest
from django.urls import reverse

from registry.services.ledger import withdraw
from scheduling import services
from scheduling.models import Task, WeekPlan
from scheduling.planning.weeks.accepting import accept_plan, proposals
from scheduling.planning.weeks.page import board_of
from scheduling.planning.weeks.proposing import ask_plan, give_up_plan, make_plan
from tests.factories import NOW, make_building, make_system
from tests.scheduling.orders_world import book, make_crew, make_order
from tests.scheduling.planning_world import (
    MONDAY,
    at,
    clock,
    make_depot,
    order_at,
    place,
    state_policy,
    takes,
)

pytestmark = [pytest.mark.django_db, pytest.mark.thorough]


@pytest.fixture
def crew(world):
    state_policy(world.contractor, drive_cost=1)
    takes(world.contractor, 120)
    return make_crew(
        world.contractor, "Van 1", world.technician, hours="Mon-Fri 8-17", cylinder_places=20,
        depot=make_depot(world.contractor), overtime_minutes=0,
    )  # fmt: skip


def planned(world, first_on=MONDAY, now=NOW) -> WeekPlan:
    plan = ask_plan(
        organisation=world.contractor, first_on=first_on, asked_by=world.technician, now=now
    )
    make_plan(plan, lambda: now)
    plan.refresh_from_db()
    return plan


def accepted(world, plan, chosen=None, now=NOW):
    return accept_plan(plan=plan, chosen=chosen, by=world.technician, now=now)


def booked():
    rows = Task.objects.booked().order_by("starts_at").select_related("system")
    return [f"{task.system.tag} {clock(task.starts_at)}" for task in rows]


def test_a_small_week_is_a_sensible_day_and_no_arithmetic(client, world, crew):
    for km in (12, 3, 9, 6, 30):
        order_at(world, f"A-{km}", north_km=km)
    plan = planned(world)
    board = board_of(world.contractor, MONDAY, now=NOW)
    assert board.is_simple and plan.bound == plan.value
    first = board.rows[0].lanes[0]
    tags = [block.task.system.tag for block in first.jobs]
    ways = [int(tag[2:]) for tag in tags]
    turns = sum((b - a) * (c - b) < 0 for a, b, c in zip(ways, ways[1:], ways[2:], strict=False))
    assert len(tags) == 4 and turns <= 1  # out and back along the road
    client.force_login(world.technician)
    html = client.get(reverse("scheduling:week"), {"on": MONDAY}).content.decode()
    assert "home" in html and "proven" not in html and "%" not in _text(html)


def _text(html):
    import re

    main = html.partition("<main")[2].partition("</main>")[0]
    return re.sub(r"<[^>]*>", " ", main)


def test_accepting_all_books_each_once_by_the_ordinary_service(world, crew):
    orders = [order_at(world, f"B-{n}", north_km=5) for n in range(3)]
    plan = planned(world)
    done = accepted(world, plan)
    assert (len(done.booked), done.refused) == (3, [])
    assert [line[4:] for line in booked()] == ["Mon 08:05", "Mon 10:05", "Mon 12:05"]
    assert sorted(line[:3] for line in booked()) == ["B-0", "B-1", "B-2"]
    line = orders[0].trail.last()
    assert line.what == "booked" and line.by == world.technician
    assert accepted(world, plan).booked == [] and len(booked()) == 3
    assert orders[0].trail.filter(what="booked").count() == 1


def test_some_may_be_accepted_and_the_rest_stays_proposed(world, crew):
    orders = [order_at(world, f"B-{n}", north_km=5) for n in range(3)]
    plan = planned(world)
    accepted(world, plan, {orders[1].pk})
    assert booked() == ["B-1 Mon 10:05"]
    assert {one.task.pk for one in proposals(plan)} == {orders[0].pk, orders[2].pk}


def test_two_who_accept_the_same_plan_book_it_once(world, crew):
    order = order_at(world, "B-1", north_km=5)
    plan = planned(world)
    stale = WeekPlan.objects.get(pk=plan.pk)
    accepted(world, plan)
    again = accepted(world, stale, {order.pk})
    assert again.booked == [] and Task.objects.booked().count() == 1


def test_what_somebody_else_booked_meanwhile_is_refused_by_itself(world, crew):
    first, second = (order_at(world, f"B-{n}", north_km=5) for n in range(2))
    plan = planned(world)
    services.accept(task=first, by=world.technician, now=NOW)
    done = accepted(world, plan, {first.pk, second.pk})
    assert [line[:3] for line in done.booked] == ["B-1"]
    assert "Tam Technician was first" in done.refused[0]


def test_an_order_withdrawn_while_it_was_planned_is_left_alone(world, crew):
    order = order_at(world, "B-1", north_km=5)
    plan = planned(world)
    withdraw(record=order.cause, recorded_by=world.owner, now=NOW, reason="Wrong system")
    order.refresh_from_db()
    assert order.status == "withdrawn"
    done = accepted(world, plan, {order.pk})
    assert done.booked == [] and "it is withdrawn now" in done.refused[0]
    board_of(world.contractor, MONDAY, now=NOW)


def test_a_swap_of_two_bookings_leaves_neither_twice(world, crew):
    """The plan exchanges two booked jobs: in between each would lie where the other still is."""
    one = order_at(world, "C-1", north_km=5)
    two = order_at(world, "C-2", north_km=5)
    book(one, world.technician, at(MONDAY, 9), hours=2, crew=crew)
    book(two, world.technician, at(MONDAY, 11), hours=2, crew=crew)
    plan = planned(world)
    steps = [s for r in plan.document["plan"]["routes"] for s in r["steps"] if s["do"] == "work"]
    for step, start in zip(steps, (11 * 60, 9 * 60), strict=True):
        step.update(start=start, end=start + 120)
        step["order"] = f"order {one.pk if start == 660 else two.pk}"
    plan.save()
    done = accepted(world, plan)
    assert (len(done.booked), done.refused) == (2, [])
    assert booked() == ["C-2 Mon 09:00", "C-1 Mon 11:00"]


def test_a_promised_booking_stays_and_a_told_one_moves_only_when_it_pays(world, crew):
    promised, told = order_at(world, "D-1", north_km=5), order_at(world, "D-2", north_km=5)
    friday = MONDAY + timedelta(days=4)
    book(promised, world.technician, at(friday, 9), hours=2, crew=crew, promised=True)
    book(told, world.technician, at(friday, 13), hours=2, crew=crew)
    plan = planned(world)
    moves = {one.task.system.tag for one in proposals(plan) if one.is_move}
    assert moves == {"D-2"}  # four days of waiting cost more than 100 thousandths
    policy = world.contractor.planning_policy
    policy.move_cost = 50_000
    policy.save()
    assert [one for one in proposals(planned(world)) if one.is_move] == []
    board = board_of(world.contractor, MONDAY, now=NOW)
    assert board.to_tell == []


def test_a_booking_is_moved_at_most_and_never_dropped_for_what_saves_more(world, crew):
    """A dear order that fills the only day cannot push a booked one off the book."""
    crew.hours = "Mon 8-12"
    crew.save()
    told = order_at(world, "L-1", north_km=5)
    book(told, world.technician, at(MONDAY, 9), hours=2, crew=crew)
    order_at(world, "L-2", north_km=1)
    plan = planned(world)
    assert [row["order"] for row in plan.document["left_out"]] != [f"order {told.pk}"]
    assert accepted(world, plan).refused == [] and len(booked()) == 1
    assert plan.value < 100_000 and plan.bound == plan.value


def test_without_a_crew_a_plan_says_so(client, world):
    order_at(world, "E-1")
    plan = planned(world)
    assert plan.state == "done" and "No crew with people goes out" in plan.problem


def test_a_week_that_is_over_is_not_planned(world, crew):
    order_at(world, "E-1")
    plan = planned(world, first_on=MONDAY - timedelta(days=14))
    assert plan.problem == "Nothing of this week is left to plan."


def test_what_nobody_can_do_says_what_each_crew_runs_into(world, crew):
    takes_skill = world.contractor.work_times.get()
    takes_skill.skills = "confined space"
    takes_skill.save()
    order_at(world, "F-1", north_km=5)
    row = planned(world).document["left_out"][0]
    assert row["why"] == "No crew can do it on any day of the plan."
    assert (
        row["crews"] == [["Van 1 (Pellmoor Fire Protection)", row["crews"][0][1]]]
        or "confined space" in row["crews"][0][1]
    )
    assert any("somebody who can do it" in let["words"] for let in row["lets"])


def test_a_window_that_never_opens_and_a_van_without_places_are_said(world, crew):
    crew.cylinder_places = 0
    crew.save()
    order_at(world, "F-1", north_km=5)
    reading = order_at(world, "F-2", north_km=5, hours="18-20")
    rows = {row["order"]: row for row in planned(world).document["left_out"]}
    assert any("carries no gas" in said for _, said in rows[f"order {reading.pk}"]["crews"]) or any(
        "not open long enough" in said for _, said in rows[f"order {reading.pk}"]["crews"]
    )
    other = next(row for key, row in rows.items() if key != f"order {reading.pk}")
    assert any("carries no gas" in said for _, said in other["crews"])


def test_a_left_out_order_can_be_let_in_for_those_it_puts_out(client, world, crew):
    crew.hours = "Mon 8-12"
    crew.save()
    for n in range(3):
        order_at(world, f"G-{n}", north_km=5, volume_m3=1 + n)
    plan = planned(world)
    rows = [row for row in plan.document["left_out"] if "swap" in row]
    assert rows and all(row["swap"]["costs"] >= 0 for row in rows)
    task = Task.objects.get(pk=rows[0]["order"].split()[1])
    client.force_login(world.technician)
    address = reverse("scheduling:week-swap", args=[plan.pk, task.pk])
    html = client.post(address, follow=True).content.decode()
    assert "is in the plan now" in html
    plan.refresh_from_db()
    assert (
        "how near it is to the best is not known" in board_of(world.contractor, MONDAY, now=NOW).gap
    )
    assert task.pk in {one.task.pk for one in proposals(plan)}
    assert len(accepted(world, plan).refused) == 0


def test_a_plan_asked_for_anew_stops_the_one_under_way(world, crew):
    order_at(world, "H-1")
    plan = ask_plan(
        organisation=world.contractor, first_on=MONDAY, asked_by=world.technician, now=NOW
    )
    ask_plan(organisation=world.contractor, first_on=MONDAY, asked_by=world.technician, now=NOW)
    assert make_plan(plan, lambda: NOW) == "Asked for anew meanwhile"
    plan.refresh_from_db()
    assert plan.document == {} and plan.is_open


def test_a_run_that_was_lost_leaves_a_plan_that_can_be_used(world, crew, monkeypatch):
    order = order_at(world, "H-1", north_km=5)
    plan = ask_plan(
        organisation=world.contractor, first_on=MONDAY, asked_by=world.technician, now=NOW
    )
    from scheduling.planning.weeks import proposing

    def die(*args, **facts):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(proposing, "left_out_rows", die)
        with pytest.raises(KeyboardInterrupt):
            make_plan(plan, lambda: NOW)
    plan.refresh_from_db()
    assert [one.task for one in proposals(plan)] == [order] and not plan.document["is_final"]
    give_up_plan(plan.pk, "The worker died.", NOW)
    plan.refresh_from_db()
    assert "The plan so far can be used" in plan.problem
    assert accepted(world, plan).booked


def test_a_day_on_which_the_clocks_change_is_said_and_no_work_lies_over_the_change(world, crew):
    from datetime import UTC, date, datetime

    crew.hours = "Sun 0-9"
    crew.save()
    sunday = date(2026, 10, 25)
    now = datetime(2026, 10, 18, 12, tzinfo=UTC)
    order_at(world, "I-1", north_km=5, now=now)
    plan = planned(world, first_on=sunday - timedelta(days=6), now=now)
    assert any(
        "The clocks change on Sun 25 Oct at 01:00" in note for note in plan.document["notes"]
    )
    (one,) = proposals(plan)
    assert one.ends_at - one.starts_at == timedelta(hours=2)
    assert clock(one.starts_at) == "Sun 02:00"


def test_two_systems_of_one_building_are_not_booked_for_one_day_by_two_crews(world, crew):
    other = make_crew(world.contractor, "Van 2", hours="Mon-Fri 8-17", cylinder_places=20)
    first = order_at(world, "J-1")
    shed = make_building(first.system.site)
    first.system.building = shed
    first.system.save()
    place(first.system.site, world.owner, building=shed)
    second = make_order(make_system(first.system.site, world.owner, tag="J-2", building=shed))
    book(first, world.technician, at(MONDAY, 8), hours=2, crew=crew)
    with pytest.raises(services.WorkError, match="two systems of one building"):
        book(second, world.technician, at(MONDAY, 11), hours=2, crew=other)
    book(
        second, world.technician, at(MONDAY, 11), hours=2, crew=other, despite=True,
        reason="The owner asked for both",
    )  # fmt: skip
    assert "although" in second.trail.last().reason
    (moved,) = [one for one in proposals(planned(world)) if one.is_move]
    assert moved.task in (first, second)  # the plan would mend it; nobody has to accept that


def test_bookings_that_break_a_rule_together_are_left_alone_and_said(world, crew):
    first = order_at(world, "K-1", north_km=5)
    second = order_at(world, "K-2", north_km=5)
    book(first, world.technician, at(MONDAY, 8, 5), hours=2, crew=crew, promised=True)
    book(
        second, world.technician, at(MONDAY, 18), hours=2, crew=crew, promised=True, despite=True,
        reason="The owner opens in the evening",
    )  # fmt: skip
    order_at(world, "K-3", north_km=5)
    plan = planned(world)
    assert plan.document["notes"] == [
        "Van 1 on Mon 8 Jun: its bookings break a rule, so the day is left as it is."
    ]
    assert [clock(one.starts_at)[:3] for one in proposals(plan)] == ["Tue"]
