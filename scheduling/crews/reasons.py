"""Why an order is left out, with evidence: the best plan found that holds it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from scheduling.crews.board import Board, Routes, fixed_board, insertions
from scheduling.crews.columns import Column, Limits, choose, column_of
from scheduling.crews.problem import Problem, Shift
from scheduling.crews.walk import Rule, best_cost

DAYS_FREED = 6
NODES = 40
PUT_OUT = 2  # orders of one day that are tried without


class Why(StrEnum):
    CANNOT = "cannot"
    NOT_WORTH = "not_worth"
    DISPLACES = "displaces"


@dataclass(frozen=True)
class LeftOut:
    """Why an order is left out; `routes` would take the place of those of the same crews' days."""

    order: int
    why: Why
    displaces: tuple[int, ...] = ()
    costs_more: int = 0
    routes: Mapping[int, tuple[int, ...]] | None = None


class BetterFound(Exception):
    """A plan that holds a left-out order is worth more: the plan was not the best."""

    def __init__(self, routes: Routes) -> None:
        super().__init__("a better plan was found")
        self.routes = dict(routes)


def why_left_out(
    problem: Problem,
    limits: Limits,
    routes: Routes,
    pool: Mapping[int, Sequence[Column]],
    holding: Mapping[int, Sequence[Column]],
) -> list[LeftOut]:
    """A reason for every order left out; BetterFound where looking for them finds a better plan.

    `pool` holds promising columns by shift, `holding` by order, the most promising first.
    """
    fixed, board = fixed_board(problem), Board(problem, routes)
    return [
        _why(problem, limits, board, fixed, pool, holding.get(order, ()), order)
        if can_alone(fixed, order)
        else LeftOut(order, Why.CANNOT)
        for order in board.left_out()
    ]


def can_alone(fixed: Board, order: int) -> bool:
    """Could any crew do it on any day, beside nothing but the fixed bookings?"""
    return any(
        fixed.refusal(shift, sequence) is None
        for shift in fixed.problem.shifts
        if order in shift.stops
        for sequence in insertions(shift.fixed, order)
    )


def _why(
    problem: Problem,
    limits: Limits,
    board: Board,
    fixed: Board,
    pool: Mapping[int, Sequence[Column]],
    holding: Sequence[Column],
    order: int,
) -> LeftOut:
    value = board.value
    others = list(_plans_with(problem, limits, board, fixed, pool, holding, order))
    best = max(others, key=lambda other: (other.value, len(other.owner)))
    if best.value > value:
        raise BetterFound(best.routes)
    lost = tuple(sorted(set(board.owner) - set(best.owner)))
    changed = sorted(
        number
        for number in {*board.routes, *best.routes}
        if board.routes.get(number) != best.routes.get(number)
    )
    return LeftOut(
        order,
        Why.DISPLACES if lost else Why.NOT_WORTH,
        lost,
        value - best.value,
        {number: best.routes.get(number, ()) for number in changed},
    )


def _plans_with(
    problem: Problem,
    limits: Limits,
    board: Board,
    fixed: Board,
    pool: Mapping[int, Sequence[Column]],
    holding: Sequence[Column],
    order: int,
) -> Iterator[Board]:
    yield _by_hand(problem, board, fixed, order)
    freed = list(dict.fromkeys(column.shift for column in holding))[:DAYS_FREED]
    if not freed:
        return
    beside = {number: route for number, route in board.routes.items() if number not in freed}
    columns = {column.key: column for number in freed for column in pool.get(number, ())}
    columns |= {column.key: column for column in holding if column.shift in freed}
    for number in freed:
        if route := board.routes.get(number):
            column = column_of(problem, problem.shifts[number], route)
            columns[column.key] = column
    chosen = choose(limits, list(columns.values()), beside=beside, nodes=NODES, demand=order)
    if chosen:
        yield Board(problem, {**beside, **chosen.routes})


def _by_hand(problem: Problem, board: Board, fixed: Board, order: int) -> Board:
    """The cheapest day that takes it, without a few orders of that day and what must go too."""
    best: Board | None = None
    loss: int | None = None
    for shift in problem.shifts:
        if order not in shift.stops:
            continue
        for cost, sequence in _squeezed(problem, shift, board, order):
            if loss is not None and cost >= loss:
                break  # what must go besides only makes it dearer
            if fixed.shared_refusal(shift, sequence):
                continue
            other = board_with(board, shift, sequence)
            lost = board.value - other.value
            if loss is None or lost < loss:
                best, loss = other, lost
    if best is None:
        raise ValueError(f"{problem.orders[order].id} fits beside the fixed bookings on no day")
    return best


def _squeezed(
    problem: Problem, shift: Shift, board: Board, order: int
) -> list[tuple[int, tuple[int, ...]]]:
    """Days that hold the order, by what they lose: all orders kept, one or two put out, or all."""
    route = board.routes.get(shift.number, ())
    movable = [each for each in route if each not in shift.fixed]
    worth = {each: shift.stops[each].worth for each in (*route, order)}
    before = sum(worth[each] for each in route) - board.costs.get(shift.number, 0)
    found = []
    sizes = sorted({*range(min(PUT_OUT, len(movable)) + 1), len(movable)})
    for out in (gone for size in sizes for gone in combinations(movable, size)):
        kept = [each for each in route if each not in out]
        if not problem.rivals[order].isdisjoint(kept):
            continue
        for sequence in insertions(kept, order):
            cost = best_cost(problem, shift, sequence)
            if cost is not None:
                after = sum(worth[each] for each in sequence) - cost
                found.append((before - after, sequence))
    return sorted(found)


def board_with(board: Board, shift: Shift, sequence: Sequence[int]) -> Board:
    """The same plan with this day first: whatever cannot stand beside it goes."""
    problem = board.problem
    mine = {shift.number: tuple(sequence)}
    if board.shared_refusal(shift, sequence) is None:
        return Board(problem, {**board.routes, **mine})
    made = fixed_board(problem)
    made.put(shift, sequence)
    for number, route in sorted(board.routes.items()):
        other, kept = problem.shifts[number], list(route)
        if number == shift.number:
            continue
        while refusal := made.shared_refusal(other, kept):
            free = [each for each in kept if each not in other.fixed]
            if refusal.rule is Rule.STOCK:
                free = [each for each in free if other.stops[each].cylinders] or free
            gone = refusal.order if refusal.order in free else free[-1]
            kept.remove(gone)
        if kept:
            made.put(other, kept)
    return made
