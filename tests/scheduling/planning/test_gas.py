"""Nitrogen on the vans: counted by hand on two days, and by what earlier runs used."""

import pytest

from registry.corrosion.gas import standard_volume
from registry.models import InertingRun
from registry.runs.steps import FILLED, READ, RunStep
from registry.services.runs import log_step
from scheduling.models import Task
from scheduling.orders.day import rounds
from scheduling.planning.gas import gas_for, used_factors, whole_cylinders
from scheduling.planning.weeks.page import board_of
from tests.factories import NOW, PSI
from tests.scheduling.orders_world import book, make_crew, make_order
from tests.scheduling.planning_world import MONDAY, at, make_depot, order_at, state_policy, takes
from tests.world_objects import make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew(world):
    state_policy(world.contractor)
    takes(world.contractor, 60)
    return make_crew(
        world.contractor, "Van 1", world.technician, hours="Mon-Fri 7-19", cylinder_places=12,
        depot=make_depot(world.contractor, full_cylinders=9, counted_on=NOW.date()),
    )  # fmt: skip


def test_gas_per_van_on_two_days_is_what_a_hand_count_gives(world, crew):
    """By hand. A fill of V m3 to 30 psi takes V x 30/14.696 = 2.04 V m3. From air, each fill
    with 99.9 % nitrogen leaves 14.696/44.696 = 0.329 of the oxygen: 20.95, 6.96, 2.35, 0.84 %:
    three fills pass 98 %, 6.12 V m3. A 44 L cylinder holds 44 L x 157.2 / 1.013 / 1.02 = 6.69 m3
    full (157.2 bar) and 0.64 m3 at 200 psi, so gives 6.0 m3. Monday: 3 x 0.5 x 6.12 / 6.0 = 1.53,
    so 2 (3 by jobs). Tuesday: 2.0 x 6.12 / 6.0 = 2.04, so 3."""
    volumes = {"A-1": 0.5, "A-2": 0.5, "A-3": 0.5, "B-1": 2.0}
    tuesday = MONDAY.replace(day=MONDAY.day + 1)
    for number, (tag, volume) in enumerate(volumes.items()):
        task = order_at(world, tag, north_km=5, volume_m3=volume)
        day = MONDAY if tag[0] == "A" else tuesday
        book(task, world.technician, at(day, 8 + 2 * (number % 3)), hours=1, crew=crew)
    lanes = board_of(world.contractor, MONDAY, now=NOW).rows[0].lanes
    assert [lane.cylinders for lane in lanes[:3]] == [2, 3, 0]
    for day, cylinders in ((MONDAY, 2), (tuesday, 3)):
        (one,) = rounds(world.technician, day, crew, NOW)
        assert [count for _, count in one.total.cylinders] == [cylinders]


def test_a_van_and_day_is_rounded_up_once_and_not_by_each_job(world, crew):
    tasks = [order_at(world, f"A-{n}", north_km=5, volume_m3=0.2) for n in range(3)]
    gas = gas_for(tasks, NOW, cylinder="large")
    parts = [gas[task.pk].parts for task in tasks]
    assert sum(map(whole_cylinders, parts)) == 3 and whole_cylinders(sum(parts)) == 1
    for number, task in enumerate(tasks):
        book(task, world.technician, at(MONDAY, 8 + 2 * number), hours=1, crew=crew)
    (one,) = rounds(world.technician, MONDAY, crew, NOW)
    assert [count for _, count in one.total.cylinders] == [1]
    assert board_of(world.contractor, MONDAY, now=NOW).rows[0].lanes[0].cylinders == 1


def test_a_smaller_cylinder_gives_less_and_is_what_the_company_says(world, crew):
    task = order_at(world, "A-1", volume_m3=1.0)
    large, small = (gas_for([task], NOW, cylinder=size)[task.pk] for size in ("large", "small"))
    assert large.m3 == small.m3 and large.usable_m3 > small.usable_m3
    assert small.parts > large.parts


def test_stock_is_what_was_counted_less_what_is_booked_and_a_booking_cannot_exceed_it(world, crew):
    from scheduling.services import WorkError

    first = order_at(world, "A-1", north_km=5, volume_m3=3.0)  # 3.1 cylinders
    second = order_at(world, "A-2", north_km=5, volume_m3=6.0)  # 6.2 of the 9 there
    book(first, world.technician, at(MONDAY, 8), hours=1, crew=crew)
    with pytest.raises(WorkError, match="The depot would be 1 cylinder short on Tue 9 Jun"):
        book(second, world.technician, at(MONDAY.replace(day=9), 8), hours=1, crew=crew)
    depot = crew.depot
    depot.deliveries = "2026-06-09 6"
    depot.save()
    book(second, world.technician, at(MONDAY.replace(day=9), 8), hours=1, crew=crew)


def used_run(system, by, used: float | None) -> InertingRun:
    """A run whose only fill logged so much gas, accepted."""
    run = make_run(system, by, NOW, readings=())
    details = {"pressure_gauge_pa": 30 * PSI} | ({} if used is None else {"gas_used_m3": used})
    facts = {"run": run, "recorded_by": by, "now": NOW, "is_kept": True}
    log_step(step=RunStep(FILLED, 1), details=details, occurred_at=NOW, **facts)
    log_step(step=RunStep(READ, 1), details={"n2_percent": 92.0}, occurred_at=NOW, **facts)
    InertingRun.objects.filter(pk=run.pk).update(status="accepted")
    return run


def test_gas_that_the_last_run_used_corrects_the_next_estimate(world, system, crew):
    order = make_order(system)
    run = used_run(system, world.technician, used=None)
    assert used_factors([system.pk]) == {}  # nobody said how much
    planned = gas_for([order], NOW, cylinder="large")[order.pk]
    run.records.filter(kind=FILLED).update(
        details={"fill": 1, "gas_used_m3": 1.5 * run.plan["nitrogen_per_fill_m3"]}
    )
    corrected = gas_for([Task.objects.get(pk=order.pk)], NOW, cylinder="large")[order.pk]
    assert corrected.factor == pytest.approx(1.5)
    assert corrected.m3 == pytest.approx(1.5 * planned.m3) and planned.m3 > 0
    run.records.filter(kind=FILLED).update(
        details={"fill": 1, "gas_used_m3": 50 * run.plan["nitrogen_per_fill_m3"]}
    )
    assert used_factors([system.pk])[system.pk] == 3.0  # a slip of the pen, not a pipe


def test_a_fill_of_the_hand_count_is_what_the_gas_model_says():
    """2.04 m3 a cubic metre: 30 psi over 14.696 psi, near 21 C."""
    fill = standard_volume(1.0, 101_325.0, 101_325.0 + 30 * PSI, temperature=294.25)
    assert fill == pytest.approx(30 / 14.696, rel=0.01)
