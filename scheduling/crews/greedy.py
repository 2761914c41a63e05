"""Plans made one order after the other: what a careful dispatcher would do without a planner."""

from collections.abc import Callable, Iterable, Sequence

from scheduling.crews.board import Board, fixed_board, insertions
from scheduling.crews.problem import Problem, Shift
from scheduling.crews.walk import best_cost

Placing = tuple[int, Shift, tuple[int, ...]]  # gain, and where


def due_order(problem: Problem) -> Board:
    """The order due soonest first, on the earliest day that takes it, where it costs least."""
    far = problem.instance.left_out_offset + 1

    def due(number: int) -> tuple[int, int]:
        latest = problem.orders[number].latest
        return (far if latest is None else latest, number)

    board = fixed_board(problem)
    for number in sorted(board.left_out(), key=due):
        placings = list(placings_of(board, number))
        if placings:
            first = min(shift.day for _, shift, _ in placings)
            _put(board, [placing for placing in placings if placing[1].day == first])
    return board


def delay_order(problem: Problem) -> Board:
    """The dearest delay first, on the best day and crew: the better of two ways to rank it."""
    by_rate = _ranked(problem, lambda number: -problem.orders[number].delay_rate)
    by_minute = _ranked(problem, lambda number: -_worth_a_minute(problem, number))
    return max(by_rate, by_minute, key=lambda board: board.value)


def _worth_a_minute(problem: Problem, number: int) -> float:
    best = max((s.stops[number].worth for s in problem.shifts if number in s.stops), default=0)
    return best / problem.orders[number].minutes


def _ranked(problem: Problem, rank: Callable[[int], float]) -> Board:
    board = fixed_board(problem)
    for number in sorted(board.left_out(), key=lambda number: (rank(number), number)):
        _put(board, placings_of(board, number))
    return board


def placings_of(board: Board, order: int) -> Iterable[Placing]:
    """Every crew, day and place of the sequence that takes the order with a gain."""
    problem = board.problem
    for shift in problem.shifts:
        if order not in shift.stops or board.shared_refusal(shift, _with(board, shift, order)):
            continue
        sequence = board.routes.get(shift.number, ())
        work = sum(shift.stops[each].minutes for each in (*sequence, order))
        if work > shift.latest - shift.begin:
            continue
        best: Placing | None = None
        for candidate in insertions(sequence, order):
            cost = best_cost(problem, shift, candidate)
            if cost is not None:
                gain = shift.stops[order].worth - cost + board.costs.get(shift.number, 0)
                if gain > 0 and (best is None or gain > best[0]):
                    best = gain, shift, candidate
        if best:
            yield best


def _with(board: Board, shift: Shift, order: int) -> Sequence[int]:
    return (*board.routes.get(shift.number, ()), order)


def _put(board: Board, placings: Iterable[Placing]) -> None:
    best = max(placings, key=lambda placing: (placing[0], -placing[1].number), default=None)
    if best:
        board.put(best[1], best[2])


def fill(board: Board) -> None:
    """Add what still fits with a gain, the greatest gain first."""
    while True:
        found = [placing for order in board.left_out() for placing in placings_of(board, order)]
        if not found:
            return
        _put(board, found)
