"""The contractor's day: who goes where, when, and with how much nitrogen on the van."""

from datetime import UTC, date, datetime

import pytest
from django.urls import reverse

from registry.corrosion.cylinders import cylinder_sizes
from registry.models import Fitting
from registry.runs.planning import opening_answers, plan_for_system
from scheduling.orders.day import rounds
from scheduling.orders.loading import JobLoad, load_for, total
from tests.factories import NOW, PSI, make_building, make_pipe_run, make_site, make_system
from tests.scheduling.ledger import DAY, accept, unclear_drain_down
from tests.scheduling.orders_world import HOUR, book, make_crew, make_order

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 6, 3, 8, tzinfo=UTC)
THAT_DAY = date(2026, 6, 3)
US, SI = "us", "si"


@pytest.fixture
def crew(world):
    return make_crew(world.contractor, "Van 1", world.technician)


@pytest.fixture
def order(system):
    return make_order(system)


def page(client, user, on=THAT_DAY, **query):
    client.force_login(user)
    return client.get(reverse("scheduling:day"), {"on": on.isoformat(), **query})


def test_the_load_of_an_order_is_what_its_plan_says(order, system):
    answers = opening_answers(system, oxygen=system.spans.last().oxygen_mid)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    plan = plan_for_system(system, answers)
    load = load_for(order, [], NOW, units=US)
    assert load.cylinders == plan.cylinders_to_load > 0
    assert load.cylinder == cylinder_sizes()["large"].label
    assert load.nitrogen_m3 == pytest.approx(plan.nitrogen_to_load_m3)


def test_the_cylinders_hold_at_least_the_nitrogen_the_job_takes(order, system):
    """By hand: at 200 bar a 44 L cylinder holds some 8 m3; the pipe takes fills of 30 psi."""
    load = load_for(order, [], NOW, units=US)
    volume = system.volume().m3
    one_fill = volume * 30 / 14.7
    assert load.nitrogen_m3 > 2 * one_fill  # two fills sometimes do, three should
    assert load.cylinders * 8 > load.nitrogen_m3


def test_a_system_without_pipe_says_why_no_cylinders_can_be_counted(world):
    order = make_order(make_system(world.site, world.owner, tag="NQ-102"))
    load = load_for(order, [], NOW, units=US)
    assert load.cylinders is None
    assert "measure first" in load.why


def test_cpvc_is_refused_and_not_loaded_for(world):
    system = make_system(world.site, world.owner, tag="NQ-102")
    order = make_order(system)  # from the time before anybody said what the pipe is made of
    make_pipe_run(
        system, world.owner, material="cpvc", schedule="", nominal_size="2", wall_mm=4.0
    )  # fmt: skip
    load = load_for(order, [], NOW, units=US)
    assert load.cylinders is None
    assert "CPVC" in load.why


@pytest.mark.parametrize(("units", "said"), [(US, "20 psi"), (SI, "1.38 bar")])
def test_why_there_is_no_plan_is_told_in_the_units_of_the_reader(world, units, said):
    weak = make_system(world.site, world.owner, tag="NQ-102", rated_pressure_gauge_pa=20 * PSI)
    make_pipe_run(weak, world.owner)
    why = load_for(make_order(weak), [], NOW, units=units).why
    assert said in why
    assert ("psi" in why) == (units == US)


def test_a_reading_takes_an_analyser_and_no_nitrogen(system):
    accept(system, NOW - 10 * DAY)
    unclear_drain_down(system, NOW - DAY)
    load = load_for(system.tasks.get(rule="in_doubt"), [], NOW, units=US)
    assert (load.cylinders, load.things) == (None, ("Gas analyser", "Oxygen monitor"))


def test_missing_fittings_are_made_up_for(order, system):
    assert any("no injection port" in thing for thing in load_for(order, [], NOW, units=US).things)
    port = Fitting(system=system, kind="injection_port")
    vent = Fitting(system=system, kind="vent")
    things = load_for(order, [port, vent], NOW, units=US).things
    assert not any("in the register" in thing for thing in things)


def test_cylinders_of_a_round_add_up_and_one_set_of_tools_serves_all():
    loads = [
        JobLoad(("Gas analyser", "Drain hose"), 3, "Large"),
        JobLoad(("Gas analyser",), 2, "Large"),
        JobLoad(("Gas analyser",), 1, "Small"),
        JobLoad((), why="The register holds no pipe."),
    ]
    sum_of = total(loads)
    assert sum_of.cylinders == [("Large", 5), ("Small", 1)]
    assert sum_of.things == ["Gas analyser", "Drain hose"]
    assert sum_of.unknown == 1


def test_the_list_is_by_crew_in_the_order_of_the_day(world, order, crew):
    second = make_order(make_system(world.site, world.owner, tag="NQ-102"))
    third = make_order(make_system(world.site, world.owner, tag="NQ-103"))
    other = make_crew(world.contractor, "Van 2")
    book(order, world.technician, MORNING + 4 * HOUR, crew=crew)
    book(second, world.technician, MORNING, crew=crew)
    book(third, world.technician, MORNING, crew=other)
    found = [
        (one.name, [stop.task.system.tag for stop in one.stops])
        for one in rounds(world.technician, THAT_DAY, None, NOW)
    ]
    assert found == [("Van 1", ["NQ-102", "NQ-101"]), ("Van 2", ["NQ-103"])]
    assert len(rounds(world.technician, THAT_DAY, crew, NOW)) == 1


@pytest.mark.parametrize(
    ("zone", "day"),
    [("Pacific/Auckland", date(2026, 6, 4)), ("America/Chicago", date(2026, 6, 3))],
)
def test_a_job_is_on_the_day_of_its_site(world, zone, day):
    site = make_site(world.owner_organisation, world.contractor, name="Far", time_zone=zone)
    order = make_order(make_system(site, world.owner, tag="FAR-1"))
    book(order, world.technician, datetime(2026, 6, 3, 20, tzinfo=UTC))
    assert [one.stops[0].task for one in rounds(world.technician, day, None, NOW)] == [order]
    assert rounds(world.technician, day + DAY, None, NOW) == []


def test_a_day_without_bookings_leads_on_to_the_next_one_that_has_some(client, world, order, crew):
    book(order, world.technician, MORNING, crew=crew)
    html = page(client, world.technician, on=THAT_DAY - DAY).content.decode()
    assert "Next booked: Wednesday 3 June" in html
    assert "on=2026-06-03" in html
    assert "Next booked" not in page(client, world.technician, on=THAT_DAY).content.decode()
    assert "Next booked" not in page(client, world.technician, on=THAT_DAY + DAY).content.decode()


def test_the_page_has_what_the_crew_needs_on_the_clock_of_the_site(client, world, order, crew):
    system = order.system
    system.building = make_building(world.site, "Shed 4")
    system.building.access_note = "Key at the gate"
    system.building.save()
    system.save()
    book(order, world.technician, MORNING, crew=crew)
    html = page(client, world.technician).content.decode()
    for words in (
        "Van 1", "Tam Technician", "09:00 to 12:00", "NQ-101", "1 Quay Road", "Key at the gate",
        "nitrogen", "Gas analyser", "Draining takes the fire protection away",
        "authority having jurisdiction",
    ):  # fmt: skip
        assert words in html, words


def test_a_job_done_stays_on_the_list_and_loads_nothing_more(client, world, order, crew, system):
    book(order, world.technician, MORNING, crew=crew)
    accept(system, NOW)
    (one,) = rounds(world.technician, THAT_DAY, None, NOW)
    assert one.total.cylinders == []
    assert "Done" in page(client, world.technician).content.decode()


def test_the_owner_sees_the_day_and_a_stranger_does_not(client, world, order, crew):
    book(order, world.technician, MORNING, crew=crew)
    assert "NQ-101" in page(client, world.owner).content.decode()
    assert "NQ-101" not in page(client, world.stranger).content.decode()


@pytest.mark.parametrize("on", ["", "nonsense", "0001-01-01", "9999-12-31"])
def test_a_day_that_cannot_be_shown_shows_today(client, technician, on):
    client.force_login(technician)
    response = client.get(reverse("scheduling:day"), {"on": on})
    assert response.status_code == 200


@pytest.mark.parametrize("count", [2, 5])
def test_another_stop_costs_only_the_questions_of_its_own_plan(
    client, world, crew, count, django_assert_max_num_queries
):
    for number in range(count):
        order = make_order(make_system(world.site, world.owner, tag=f"NQ-20{number}"))
        book(order, world.technician, MORNING + 3 * number * HOUR, crew=crew)
    client.force_login(world.technician)
    with django_assert_max_num_queries(21 + 5 * count):
        page(client, world.technician)
