"""One crew's day worked out by hand: driving, windows, break, cylinders, overtime, refusals."""

import pytest

from scheduling.crews import (
    Board,
    Problem,
    Refusal,
    Rule,
    check_routes,
    fixed_board,
    read_instance,
    timed_steps,
    walk,
)
from tests.scheduling.crews.made_instances import made_instance, order_of, tiny_instance
from tests.scheduling.crews.oracle import Oracle


def problem_of(*orders, **how):
    return Problem(read_instance(tiny_instance(list(orders), **how)))


def day_of(problem, *sequence, shift=0):
    return walk(problem, problem.shifts[shift], sequence)


def steps_of(problem, *sequence, shift=0):
    steps = timed_steps(problem, problem.shifts[shift], sequence)
    return [(step["do"], step["start"], step["end"]) for step in steps]


def test_a_short_day_is_driven_worked_and_home_before_the_break_is_due():
    problem = problem_of(order_of(minutes=60))
    found = day_of(problem, 0)
    assert (found.cost, found.home) == (20, 560)  # 8:00, ten minutes out, an hour, ten back
    assert steps_of(problem, 0) == [("leave", 480, 480), ("work", 490, 550), ("return", 560, 560)]


def test_the_crew_leaves_late_rather_than_wait_before_a_closed_door():
    data = tiny_instance([order_of()])
    data["buildings"][0]["windows"] = {"0": [[540, 600]]}
    problem = Problem(read_instance(data))
    assert steps_of(problem, 0) == [("leave", 530, 530), ("work", 540, 570), ("return", 580, 580)]


def test_the_break_fills_the_wait_for_an_afternoon_window():
    data = tiny_instance([order_of()])
    data["buildings"][0]["windows"] = {"0": [[480, 500], [800, 900]]}
    problem = Problem(read_instance(data))
    assert steps_of(problem, 0) == [
        ("leave", 650, 650),
        ("break", 660, 690),
        ("work", 800, 830),
        ("return", 840, 840),
    ]


def test_work_that_lasts_beyond_the_hours_of_the_break_waits_for_the_break():
    problem = problem_of(order_of("long", minutes=200), order_of("longer", minutes=120))
    # 8:10 to 11:30 and straight on would be 13:30, when no break may begin any more
    assert steps_of(problem, 0, 1)[2:4] == [("break", 690, 720), ("work", 720, 840)]


def test_overtime_is_paid_by_the_minute_and_not_exceeded():
    orders = [order_of(minutes=440), order_of("more", minutes=450), order_of("most", minutes=451)]
    hours = {"break": {"minutes": 30, "from": 480, "to": 930}}
    problem = problem_of(*orders, crew={"overtime_minutes": 30}, **hours)
    found = day_of(problem, 0)  # 20 minutes of driving, 440 of work and 30 of break from 8:00
    assert (found.cost, found.home) == (20 + 10 * 5, 970)
    assert day_of(problem, 1).cost == 20 + 20 * 5
    data = {"overtime_minutes": 20}
    problem = problem_of(*orders, crew=data, **hours)
    assert day_of(problem, 1).home == 980
    assert isinstance(day_of(problem, 2), Refusal)


def test_a_day_that_would_end_too_late_says_when_it_would_and_when_it_must():
    problem = problem_of(order_of(minutes=471), **{"break": {"minutes": 0, "from": 480, "to": 960}})
    refusal = day_of(problem, 0)
    assert refusal.rule is Rule.HOURS
    assert "16:11" in refusal.text and "16:00" in refusal.text


def test_seven_orders_that_would_run_past_midnight_are_refused():
    """Each of them fits the day alone, and a day filled by the count of orders took all seven."""
    orders = [order_of(f"o{number}", minutes=150, building="third") for number in range(7)]
    problem = problem_of(*orders, crew={"overtime_minutes": 60})
    refusal = day_of(problem, *range(7))
    assert refusal.rule is Rule.HOURS
    # Home after the fourth at 18:00 at the earliest, without any break, where 17:00 is the latest.
    assert "17:00" in refusal.text
    assert not isinstance(day_of(problem, 0, 1), Refusal)
    board = Board(problem)
    assert board.refusal(problem.shifts[0], range(7)) == refusal


def test_the_van_goes_back_for_cylinders_and_the_load_is_what_the_next_stretch_needs():
    orders = [order_of(name, cylinders=count) for name, count in (("a", 6), ("b", 3), ("c", 5))]
    problem = problem_of(*orders)
    steps = timed_steps(problem, problem.shifts[0], (0, 1, 2))
    loads = [(step["do"], step["cylinders"]) for step in steps if "cylinders" in step]
    assert loads in ([("leave", 9), ("restock", 5)], [("leave", 6), ("restock", 8)])
    assert day_of(problem, 0, 1, 2).cost == 40


def test_gas_per_van_on_two_days_by_hand():
    """Stock 7, and 4 more on the second day: 6 used on the first leaves 5 for the second."""
    orders = [order_of(name, cylinders=count) for name, count in (("a", 6), ("b", 5), ("c", 6))]
    depot = {"id": "depot", "x": 0, "y": 0, "stock": 7, "deliveries": {"1": 4}}
    problem = problem_of(*orders, days=2, depots=[depot])
    assert check_routes(problem, {0: (0,), 1: (1,)}) == []
    (refusal,) = check_routes(problem, {0: (0,), 1: (2,)})
    assert refusal.rule is Rule.STOCK
    assert "1 cylinders short on 2031-05-06" in refusal.text
    # What was drawn yesterday is gone today: a later day may make an earlier one impossible.
    board = Board(problem, {1: (1,)})
    assert board.refusal(problem.shifts[0], (0,)) is None
    board = Board(problem, {1: (2,)})
    assert board.refusal(problem.shifts[0], (0,)).rule is Rule.STOCK


@pytest.mark.parametrize(
    "facts, crew, rule",
    [
        ({"skills": ["high"]}, {}, Rule.SKILLS),
        ({"cylinders": 11}, {}, Rule.VAN),
        ({"earliest": 3}, {}, Rule.EARLIEST),
        ({"fixed": {"crew": "crew", "day": 1, "start": 600}}, {}, Rule.FIXED),
        ({"minutes": 600}, {}, Rule.HOURS),
    ],
)
def test_a_refusal_names_the_rule(facts, crew, rule):
    data = {"break": {"minutes": 0, "from": 0, "to": 1440}}
    data["buildings"] = [{"id": "site", "x": 0, "y": 0, "windows": {"0": [[0, 1440]]}}]
    refusal = day_of(problem_of(order_of(**facts), crew=crew, days=2, **data), 0)
    assert refusal.rule is rule
    assert rule is Rule.HOURS or (refusal.order == 0 and "one" in refusal.text)


def test_a_closed_building_is_told_with_the_hour_by_which_work_must_begin():
    data = tiny_instance([order_of("early", minutes=60), order_of("late", minutes=60)])
    data["buildings"][0]["windows"] = {"0": [[480, 600]]}
    refusal = day_of(Problem(read_instance(data)), 0, 1)
    assert (refusal.rule, refusal.order) == (Rule.WINDOW, 1)
    assert "09:10" in refusal.text and "09:00" in refusal.text


def test_two_impaired_systems_of_one_building_are_refused_on_one_day_only():
    orders = [order_of(name, impairs=True) for name in ("a", "b")]
    problem = problem_of(*orders, order_of("c"), days=2)
    board = Board(problem, {0: (0,)})
    assert board.refusal(problem.shifts[0], (0, 1)).rule is Rule.IMPAIRED
    assert board.refusal(problem.shifts[0], (0, 2)) is None
    assert board.refusal(problem.shifts[1], (1,)) is None


def test_an_order_is_done_once():
    problem = problem_of(order_of(), days=2)
    assert day_of(problem, 0, 0).rule is Rule.TWICE
    assert Board(problem, {0: (0,)}).refusal(problem.shifts[1], (0,)).rule is Rule.TWICE


def test_a_booking_may_not_be_left_out_of_its_day():
    booked = order_of("booked", fixed={"crew": "crew", "day": 0, "start": 600})
    problem = problem_of(booked, order_of("other"))
    assert day_of(problem, 1).rule is Rule.MISSING
    assert check_routes(problem, {})[0].rule is Rule.MISSING
    assert fixed_board(problem).routes == {0: (0,)}


@pytest.mark.parametrize("seed", range(12))
def test_each_day_costs_what_trying_everything_finds(seed):
    data = made_instance(4, 1, 1, 100 + seed)
    problem, oracle = Problem(read_instance(data)), Oracle(data)
    names = [order["id"] for order in data["orders"]]
    for one in range(4):
        for two in range(4):
            sequence = (one,) if one == two else (one, two)
            if not all(oracle._may("crew0", 0, names[order]) for order in sequence):
                continue
            expected = oracle._cheapest("crew0", 0, [names[order] for order in sequence])
            found = day_of(problem, *sequence)
            assert (None if isinstance(found, Refusal) else found.cost) == expected
