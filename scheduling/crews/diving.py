"""From the linear choice to a plan: take what it is surest of, solve again, and again.

Between two takings the search makes routes for what is left, at the prices that hold then: routes
made for the whole problem seldom leave each other's orders alone.
"""

from collections.abc import Mapping, Sequence

from scheduling.crews.board import Board
from scheduling.crews.columns import Column, Limits, Master, is_true
from scheduling.crews.greedy import fill
from scheduling.crews.problem import Problem
from scheduling.crews.relaxing import Relaxation

SURE = 0.99
LEAST = 1e-6
PRICED_EVERY = 3  # crews' days taken between two searches for further routes
TAKEN_AT_ONCE = 12  # of those that the linear choice is sure of


def dive(problem: Problem, master: Master, relaxation: Relaxation) -> Board:
    """A whole plan near the linear choice; the master is as it was before, with more columns."""
    run = _Dive(problem, master)
    since = 0
    while True:
        _, _, shares = master.solve()
        taken, is_changed = run.step([float(share) for share in shares])
        if not is_changed:
            break
        since += taken
        if since >= PRICED_EVERY and len(run.taken) < len(problem.shifts):
            since = 0
            relaxation.quick_round([s for s in problem.shifts if s.number not in run.taken])
    run.free()
    board = Board(problem, {n: column.orders for n, column in run.taken.items()})
    fill(board)
    return board


class _Dive:
    def __init__(self, problem: Problem, master: Master) -> None:
        self.problem, self.master = problem, master
        self.taken: dict[int, Column] = {}
        self.bounds: set[int] = set()
        self.room = _room_beside_bookings(problem, master.limits)

    def step(self, shares: Sequence[float]) -> tuple[int, bool]:
        """Takes the columns that the linear choice is sure of, or the one that it is surest of.

        How many it took, and whether anything changed: what cannot be is left out for certain.
        """
        count, before = 0, len(self.bounds)
        for share, number in self._wanted(shares):
            column = self.master.columns[number]
            if column.shift in self.taken:
                continue
            if count and share < SURE:
                break
            if not is_true(self.problem, column.orders) or not self._fits(column):
                self._bound(number, 0)
                continue
            self._take(number, column)
            count += 1
            if count == TAKEN_AT_ONCE:
                break
        return count, len(self.bounds) > before

    def _wanted(self, shares: Sequence[float]) -> list[tuple[float, int]]:
        """The largest shares first, ties by what the columns hold."""
        columns = self.master.columns
        found = [
            (-share, columns[number].key, number)
            for number, share in enumerate(shares)
            if share > LEAST and columns[number].shift not in self.taken
        ]
        return [(-less, number) for less, _, number in sorted(found)]

    def _take(self, number: int, column: Column) -> None:
        self.taken[column.shift] = column
        self._bound(number, 1)
        for row, used in self.master.limits.uses(column).items():
            self.room[row] -= used
        shift = self.problem.shifts[column.shift]
        if shift.fixed:  # what its bookings need was set aside before
            for row, used in _bookings(self.master.limits, column.shift, shift.fixed).items():
                self.room[row] += used

    def _fits(self, column: Column) -> bool:
        given: Mapping[int, int] = {}
        if fixed := self.problem.shifts[column.shift].fixed:
            given = _bookings(self.master.limits, column.shift, fixed)
        uses = self.master.limits.uses(column)
        return all(used <= self.room[row] + given.get(row, 0) for row, used in uses.items())

    def _bound(self, number: int, value: int) -> None:
        self.bounds.add(number)
        self.master.fix(number, value)

    def free(self) -> None:
        for number in sorted(self.bounds):
            self.master.fix(number, None)


def _bookings(limits: Limits, shift: int, fixed: tuple[int, ...]) -> Mapping[int, int]:
    return limits.uses(Column(shift, fixed, 0))


def _room_beside_bookings(problem: Problem, limits: Limits) -> list[int]:
    room = list(limits.upper)
    for shift in problem.shifts:
        if shift.fixed:
            for row, used in _bookings(limits, shift.number, shift.fixed).items():
                room[row] -= used
    return room
