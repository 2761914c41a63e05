"""Both searches for routes find the same, and what they find is right."""

from itertools import permutations
from random import Random

import pytest

from scheduling.crews import Problem, read_instance
from scheduling.crews.closing import every_route
from scheduling.crews.columns import column_found, is_true
from scheduling.crews.labels import search
from scheduling.crews.pricing import SCALE, Memory, Prices, menu
from scheduling.crews.walk import best_cost
from tests.scheduling.crews.made_instances import made_instance

pytestmark = pytest.mark.thorough

NOTHING = -(10**9)  # below what any order or route is worth


def problem_of(orders, seed, *, fixed=0):
    return Problem(read_instance(made_instance(orders, 2, 1, seed, fixed=fixed)))


def prices_of(problem, seed):
    random = Random(seed)
    return Prices(
        orders=[random.randrange(0, 400 * SCALE) for _ in problem.orders],
        impaired={},
        stock=[[random.randrange(0, 20 * SCALE)] for _ in problem.instance.depots],
        shifts=[0 for _ in problem.shifts],
    )


def asked(problem, shift, prices, nearest=None, least=0, threshold=NOTHING):
    return menu(problem, shift, prices, Memory(nearest), threshold=threshold, least=least)


def gross(problem, shift, prices, orders):
    """What a route is worth at prices, by the check of a day; None where it cannot be."""
    cost = best_cost(problem, shift, orders)
    if cost is None or not is_true(problem, orders):
        return None
    return sum(prices.net(problem, shift, order) for order in orders) - cost * SCALE


def true_routes(problem, shift, prices):
    names = sorted(shift.stops)
    for count in range(1, len(names) + 1):
        for orders in permutations(names, count):
            worth = gross(problem, shift, prices, orders)
            if worth is not None and not problem.rivals[orders[0]] & problem.fixed_on[shift.day]:
                yield worth, orders


@pytest.mark.parametrize("seed", range(10))
def test_the_best_route_is_the_best_of_all_sequences(seed):
    problem = problem_of(6, seed)
    prices = prices_of(problem, seed)
    for shift in problem.shifts:
        found = search(asked(problem, shift, prices), is_quick=False, limit=10**6)
        best = max((worth for worth, _ in true_routes(problem, shift, prices)), default=None)
        if best is not None and best > 0:
            assert found.best == best
        for worth, orders in found.routes:
            assert worth == gross(problem, shift, prices, orders)
            column = column_found(prices, problem, shift, worth, orders)
            assert column.value == sum(shift.stops[o].worth for o in orders) - best_cost(
                problem, shift, orders
            )


@pytest.mark.parametrize("seed", range(10))
def test_forgetting_never_finds_less(seed):
    problem = problem_of(9, seed, fixed=1)
    prices = prices_of(problem, seed)
    for shift in problem.shifts:
        exact = search(asked(problem, shift, prices), is_quick=False, limit=10**6)
        for nearest in (1, 2, 4):
            loose = search(asked(problem, shift, prices, nearest), is_quick=False, limit=10**6)
            assert exact.best is None or loose.best >= exact.best


@pytest.mark.parametrize("seed", range(10))
def test_every_route_above_a_threshold_is_listed_once_for_each_set(seed):
    problem = problem_of(6, seed)
    prices = prices_of(problem, seed)
    for shift in problem.shifts:
        best = {}
        for worth, orders in true_routes(problem, shift, prices):
            if worth > 0:
                key = frozenset(orders)
                best[key] = max(worth, best.get(key, worth))
        menu_ = asked(problem, shift, prices, least=-(10**9), threshold=0)
        listed, _ = every_route(menu_, 10**6)
        assert {frozenset(orders): worth for worth, orders in listed} == best


def test_a_search_cut_short_says_so_and_claims_no_best():
    problem = problem_of(9, 1)
    found = search(
        asked(problem, problem.shifts[0], prices_of(problem, 1)), is_quick=False, limit=3
    )
    assert (found.best, found.is_complete) == (None, False)
    menu_ = asked(problem, problem.shifts[0], prices_of(problem, 1))
    assert every_route(menu_, 3) is None


def test_a_route_without_its_bookings_is_none():
    problems = [problem_of(8, seed, fixed=1) for seed in range(20)]
    problem, shift = next((p, shift) for p in problems for shift in p.shifts if shift.fixed)
    found = search(asked(problem, shift, prices_of(problem, 3)), is_quick=False, limit=10**6)
    assert found.routes
    assert all(set(shift.fixed) <= set(orders) for _, orders in found.routes)


@pytest.mark.parametrize("seed", range(2))
def test_the_compiled_search_is_the_same_search(seed):
    from scheduling.crews import compiled

    problem = Problem(read_instance(made_instance(100, 1, 1, seed, fixed=seed % 2)))
    prices, (shift,) = prices_of(problem, seed), problem.shifts
    found = compiled.search(asked(problem, shift, prices), is_quick=True, limit=10**6)
    # Of all orders, whether they pay or not: more than a word of bits, and few labels.
    enough = found.best * 9 // 10
    for nearest, is_quick in ((5, False), (2, True)):
        menu_ = asked(problem, shift, prices, nearest, least=NOTHING, threshold=enough)
        assert len(menu_.orders) > compiled.BITS
        plain = search(menu_, is_quick=is_quick, limit=10**5)
        assert plain.is_complete and plain.routes
        assert compiled.search(menu_, is_quick=is_quick, limit=10**5) == plain
