"""Large plans: most routes stay, a few crews' days are chosen anew among the columns, and again."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from random import Random

from scheduling.crews.columns import Column, Limits, choose, column_of, is_true
from scheduling.crews.pricing import SCALE
from scheduling.crews.problem import Problem
from scheduling.crews.relaxing import Bound, Work

DAYS_FREED = 16  # crews' days at a time
COLUMNS_A_DAY = 150
NODES = 60


@dataclass
class Plan:
    routes: dict[int, tuple[int, ...]]
    value: int


def free_in_turn(
    problem: Problem,
    limits: Limits,
    columns: Sequence[Column],
    bound: Bound | None,
    plan: Plan,
    *,
    rounds: int,
    work: Work,
    on_better: Callable[[], None],
) -> None:
    """Better the plan in place; ends after `rounds` sweeps, or sooner when two win nothing."""
    pool = promising(problem, columns, bound, plan.value)
    idle = 0
    for sweep in range(rounds):
        before = plan.value
        for group in groups(problem, Random(f"{problem.instance.name} {sweep}")):
            work.freed += 1
            _choose_anew(problem, limits, pool, plan, group, work)
        on_better()
        idle = 0 if plan.value > before else idle + 1
        if idle == 2:
            return


def _choose_anew(
    problem: Problem,
    limits: Limits,
    pool: dict[int, list[Column]],
    plan: Plan,
    group: set[int],
    work: Work,
) -> None:
    beside = {number: route for number, route in plan.routes.items() if number not in group}
    free = [column for number in sorted(group) for column in pool.get(number, ())]
    present = {number: route for number, route in plan.routes.items() if number in group}
    known = {column.key: column for column in free}
    kept = 0
    for number, route in present.items():
        if (number, route) not in known:
            column = _column(limits, number, route)
            free.append(column)
            known[column.key] = column
        kept += known[number, route].value
    chosen = choose(limits, free, beside=beside, start=present, nodes=NODES)
    if chosen:
        work.nodes += chosen.nodes
        if chosen.value > kept:
            plan.routes = dict(sorted({**beside, **chosen.routes}.items()))
            plan.value += chosen.value - kept


def _column(limits: Limits, number: int, route: tuple[int, ...]) -> Column:
    return column_of(limits.problem, limits.problem.shifts[number], route)


def promising(
    problem: Problem, columns: Sequence[Column], bound: Bound | None, value: int
) -> dict[int, list[Column]]:
    """By shift the true routes that lose least at the bound's prices, and not too much."""
    rows: dict[int, list[tuple[int, Column]]] = {}
    for column in columns:
        if not is_true(problem, column.orders):
            continue
        lost = 0
        if bound:
            shift = problem.shifts[column.shift]
            worth = sum(shift.stops[order].worth for order in column.orders) * SCALE
            net = sum(bound.prices.net(problem, shift, order) for order in column.orders)
            lost = bound.terms[column.shift] - (column.value * SCALE - worth + net)
            if lost > bound.scaled - value * SCALE:
                continue
        rows.setdefault(column.shift, []).append((lost, column))
    return {
        number: [c for _, c in sorted(found, key=lambda row: (row[0], row[1].key))[:COLUMNS_A_DAY]]
        for number, found in rows.items()
    }


def groups(problem: Problem, random: Random) -> Iterator[set[int]]:
    """Crews' days that are freed together: of the same days, of the same crews, and at random."""
    shifts = problem.shifts
    days = sorted({shift.day for shift in shifts})
    crews = sorted({shift.crew for shift in shifts})
    for first in range(len(days)):
        pair = {days[first], random.choice(days)}
        yield _some(random, [s.number for s in shifts if s.day in pair])
    for first in range(len(crews)):
        pair = {crews[first], random.choice(crews)}
        yield _some(random, [s.number for s in shifts if s.crew in pair])
    for _ in range(len(days)):
        yield _some(random, [s.number for s in shifts])


def _some(random: Random, numbers: list[int]) -> set[int]:
    return set(numbers if len(numbers) <= DAYS_FREED else random.sample(numbers, DAYS_FREED))
