"""Why an order is left out, as sentences, and what would let it in, with the price of each."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext

from scheduling.crews import (
    Board,
    CrewPlan,
    LeftOut,
    Problem,
    Refusal,
    Why,
    fixed_board,
    loss,
    walk,
)
from scheduling.crews.board import insertions
from scheduling.crews.document import routes_document
from scheduling.crews.problem import Shift
from scheduling.crews.walk import best_cost
from scheduling.models import Task
from scheduling.planning.book import Week, order_id
from scheduling.planning.said.hours import at
from scheduling.planning.words import (
    day_words,
    order_words,
    points_words,
    refusal_words,
)

MOST_LETS = 3
LONGER = 120  # minutes of overtime more


def left_out_rows(week: Week, plan: CrewPlan) -> list[dict[str, Any]]:
    """As plain data for the document of the plan."""
    board = Board(plan.problem, plan.routes)
    return [_row(week, board, reason) for reason in plan.left_out]


def _row(week: Week, board: Board, reason: LeftOut) -> dict[str, Any]:
    task = week.tasks[reason.order]
    if reason.why is Why.CANNOT:
        lets = _lets_at_all(week, reason.order)
    else:
        lets = _lets(week, board, reason.order)
    row: dict[str, Any] = {
        "order": order_id(task),
        "why": _why(week, reason),
        "crews": list(_crews(week, board, reason.order)),
        "lets": [let.document for let in lets],
    }
    if reason.why is Why.DISPLACES:
        row["swap"] = {
            "displaces": [order_id(week.tasks[order]) for order in reason.displaces],
            "costs": reason.costs_more,
            "routes": routes_document(week.problem, reason.routes or {}),
        }
    return row


def _why(week: Week, reason: LeftOut) -> str:
    if reason.why is Why.CANNOT:
        return gettext("No crew can do it on any day of the plan.")
    if reason.why is Why.NOT_WORTH:
        return gettext(
            "It fits, but the way and overtime would cost {points} more than doing it this week "
            "saves."
        ).format(points=points_words(reason.costs_more))
    names = ", ".join(order_words(week.tasks[order]) for order in reason.displaces)
    return gettext("It would put out {names}, and the week would be {points} worse.").format(
        names=names, points=points_words(reason.costs_more)
    )


def _crews(week: Week, board: Board, order: int) -> Iterator[tuple[str, str]]:
    """What each crew runs into, on the day on which it comes nearest."""
    problem = board.problem
    for number, crew in enumerate(week.crews):
        shifts = [shift for shift in problem.shifts if shift.crew == number]
        if not shifts:
            yield str(crew), gettext("Does not go out on these days.")
            continue
        refusals = [
            (nearness, shift.day, refusal)
            for shift in shifts
            for nearness, refusal in [_nearest(board, shift, order)]
        ]
        best = min(refusals, key=lambda row: row[:2])
        if best[2] is None:
            yield str(crew), gettext("Has room on {day}.").format(day=day_words(week.days[best[1]]))
        else:
            yield str(crew), refusal_words(week, best[2], crew, week.days[best[1]])


def _nearest(board: Board, shift: Shift, order: int) -> tuple[int, Refusal | None]:
    """The refusal of the place in the day that comes nearest to letting it in."""
    best: tuple[int, Refusal | None] | None = None
    for sequence in insertions(board.routes.get(shift.number, ()), order):
        found = walk(board.problem, shift, sequence)
        refusal = found if isinstance(found, Refusal) else board.shared_refusal(shift, sequence)
        if refusal is None:
            return -1, None
        numbers = refusal.numbers
        over = numbers["home"] - numbers["by"] if "home" in numbers else 10_000
        if best is None or over < best[0]:
            best = over, refusal
    assert best is not None  # insertions() gives one at least
    return best


@dataclass(frozen=True)
class Let:
    """Something that would let an order in; `costs` is None where others would have to go too."""

    words: str
    costs: int | None

    @property
    def document(self) -> dict[str, Any]:
        return {"words": self.words, "costs": self.costs}


def _lets(week: Week, board: Board, order: int) -> list[Let]:
    """What would let it in without putting anything out, the cheapest first."""
    found = [*_by_overtime(week, board, order), *_by_asking(week, board, order)]
    found.sort(key=lambda let: (let.costs or 0, let.words))
    return [*found[: MOST_LETS - 1], _by_waiting(week, order)]


def _lets_at_all(week: Week, order: int) -> list[Let]:
    """What would let it in beside the fixed bookings alone: waiting changes nothing."""
    board = fixed_board(week.problem)
    found = [*_by_overtime(week, board, order), *_by_asking(week, board, order)]
    return [replace(let, costs=None) for let in found[:MOST_LETS]]


def _best_place(
    problem: Problem, board: Board, order: int
) -> tuple[int, Shift, tuple[int, ...]] | None:
    """What it costs to add the order where it costs least, under other rules; with its day."""
    best: tuple[int, Shift, tuple[int, ...]] | None = None
    for shift in problem.shifts:
        if order not in shift.stops:
            continue
        old = board.problem.shift_at.get((shift.crew, shift.day))
        present = board.routes.get(old.number, ()) if old else ()
        for sequence in insertions(present, order):
            cost = best_cost(problem, shift, sequence)
            if cost is None or _is_shared_out(problem, board, old, sequence):
                continue
            more = cost - (board.costs.get(old.number, 0) if old else 0)
            if best is None or more < best[0]:
                best = more, shift, sequence
    return best


def _is_shared_out(
    problem: Problem, board: Board, old: Shift | None, sequence: tuple[int, ...]
) -> bool:
    """One building a day and the cylinders of the depot, as they are counted in the plan."""
    if old is None:
        return True
    for order in sequence:
        for rival in problem.rivals[order]:
            owner = board.owner.get(rival)
            is_elsewhere = owner is not None and board.problem.shifts[owner].day == old.day
            if rival in sequence or is_elsewhere:
                return True
    known = [order for order in sequence if order in old.stops]
    return board.shared_refusal(old, known) is not None


def _by_overtime(week: Week, board: Board, order: int) -> Iterator[Let]:
    instance = week.problem.instance
    crews = tuple(
        replace(crew, overtime_minutes=crew.overtime_minutes + LONGER) for crew in instance.crews
    )
    problem = Problem(replace(instance, crews=crews))
    if found := _best_place(problem, board, order):
        more, shift, sequence = found
        done = walk(problem, shift, sequence)
        assert not isinstance(done, Refusal)  # best_cost() was there
        text = gettext("{crew} comes home at {home} on {day}")
        yield Let(
            text.format(
                crew=week.crews[shift.crew], home=at(done.home), day=day_words(week.days[shift.day])
            ),
            more,
        )


def _by_asking(week: Week, board: Board, order: int) -> Iterator[Let]:
    """Access all day, a van with room, or a crew that can."""
    instance, row = week.problem.instance, week.problem.orders[order]
    open_all_day = dict.fromkeys(range(7), ((0, 1440),))
    buildings = tuple(
        replace(one, windows=open_all_day) if one.id == row.building else one
        for one in instance.buildings
    )
    free = tuple(
        replace(one, skills=frozenset()) if one.id == row.id else one for one in instance.orders
    )
    empty = tuple(replace(one, cylinders=0) if one.id == row.id else one for one in instance.orders)
    for changed, words in (
        (replace(instance, buildings=buildings), gettext("The building opens for {crew} on {day}")),
        (
            replace(instance, orders=free),
            gettext("{crew} goes on {day} with somebody who can do it"),
        ),
        (
            replace(instance, orders=empty),
            gettext("{crew} on {day}, with the gas brought to the site"),
        ),
    ):
        if changed == instance:
            continue
        problem = Problem(changed)
        if found := _best_place(problem, board, order):
            more, shift, _ = found
            yield Let(
                words.format(crew=week.crews[shift.crew], day=day_words(week.days[shift.day])),
                more,
            )


def _by_waiting(week: Week, order: int) -> Let:
    instance, row = week.problem.instance, week.problem.orders[order]
    last = instance.days[-1].offset
    costs = loss(row, last + 3, None) - loss(row, last, None)
    return Let(gettext("It waits until next week"), costs)


def swapped(document: dict[str, Any], order: str, task: Task) -> dict[str, Any]:
    """The plan with the order in, and out what it puts out; ValueError where there is no swap."""
    rows = document.get("left_out", [])
    row = next((row for row in rows if row["order"] == order and "swap" in row), None)
    if row is None:
        raise ValueError(f"{order} has nothing that it could take the place of")
    changed = {(route["crew"], route["day"]): route for route in row["swap"]["routes"]}
    kept = [
        route
        for route in document["plan"]["routes"]
        if (route["crew"], route["day"]) not in changed
    ]
    routes = [*kept, *(route for route in changed.values() if route["steps"])]
    out = [
        {
            "order": other,
            "why": gettext("Put out for {order}.").format(order=order_words(task)),
            "crews": [],
            "lets": [],
        }
        for other in row["swap"]["displaces"]
    ]
    # The other swaps were made for the plan as it was.
    left = [{k: v for k, v in one.items() if k != "swap"} for one in rows if one is not row]
    plan = document["plan"] | {"routes": sorted(routes, key=lambda r: (r["day"], r["crew"]))}
    return document | {"plan": plan, "left_out": left + out, "swapped": True}
