"""Routes as columns: what they share, and the linear and the whole-number choice among them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import highspy
import numpy as np

from scheduling.crews.board import Board, Routes
from scheduling.crews.pricing import SCALE, Prices
from scheduling.crews.problem import Problem, Shift
from scheduling.crews.walk import best_cost

Row = tuple[str, int, int]  # what is limited: ("order", number, 0), ("impaired", building, day)...


@dataclass(frozen=True, slots=True)
class Column:
    shift: int
    orders: tuple[int, ...]
    value: int

    @property
    def key(self) -> tuple[int, tuple[int, ...]]:
        return self.shift, self.orders


def is_true(problem: Problem, orders: Sequence[int]) -> bool:
    """Does the route visit nothing twice and impair no building twice?"""
    for position, order in enumerate(orders):
        before = orders[:position]
        if order in before or not problem.rivals[order].isdisjoint(before):
            return False
    return True


def column_of(problem: Problem, shift: Shift, orders: Sequence[int]) -> Column:
    """The column of a route that can be done."""
    cost = best_cost(problem, shift, orders)
    if cost is None:
        raise ValueError(f"shift {shift.number} cannot do {list(orders)}")
    return Column(shift.number, tuple(orders), _worth(shift, orders) - cost)


def column_found(
    prices: Prices, problem: Problem, shift: Shift, gross: int, orders: Sequence[int]
) -> Column:
    """The column of a route that a search found to be worth `gross` at prices."""
    net = sum(prices.net(problem, shift, order) for order in orders)
    cost = (net - gross) // SCALE
    return Column(shift.number, tuple(orders), _worth(shift, orders) - cost)


def columns_of(board: Board) -> list[Column]:
    shifts = board.problem.shifts
    return [column_of(board.problem, shifts[n], route) for n, route in sorted(board.routes.items())]


def _worth(shift: Shift, orders: Iterable[int]) -> int:
    return sum(shift.stops[order].worth for order in orders)


class Limits:
    """The rows of the choice: what routes share, and how much of it there is."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.number: dict[Row, int] = {}
        self.upper: list[int] = []
        self._used: dict[tuple[int, tuple[int, ...]], dict[int, int]] = {}
        for order in range(len(problem.orders)):
            self._add(("order", order, 0), 1)
        for shift in problem.shifts:
            self._add(("shift", shift.number, 0), 1)
        for building in self.shared_buildings:
            for day in range(len(problem.instance.days)):
                self._add(("impaired", building, day), 1)
        for depot, there in enumerate(problem.stock):
            for day, count in enumerate(there):
                self._add(("stock", depot, day), count)

    def _add(self, row: Row, upper: int) -> None:
        self.number[row] = len(self.upper)
        self.upper.append(upper)

    @cached_property
    def shared_buildings(self) -> list[int]:
        """Places of buildings with two orders that impair, or more."""
        rivals = self.problem.rivals
        orders = enumerate(self.problem.orders)
        return sorted({self.problem.place[order.building] for n, order in orders if rivals[n]})

    def uses(self, column: Column) -> dict[int, int]:
        """What the column uses by number of the row."""
        if column.key not in self._used:
            self._used[column.key] = self._use(column)
        return self._used[column.key]

    def _use(self, column: Column) -> dict[int, int]:
        shift = self.problem.shifts[column.shift]
        used = {self.number["shift", column.shift, 0]: 1}
        cylinders = 0
        for order in column.orders:
            self._count(used, ("order", order, 0), 1)
            if self.problem.rivals[order]:
                self._count(used, ("impaired", shift.stops[order].place, shift.day), 1)
            cylinders += shift.stops[order].cylinders
        if cylinders:
            for day in range(shift.day, len(self.problem.instance.days)):
                self._count(used, ("stock", shift.depot, day), cylinders)
        return used

    def _count(self, used: dict[int, int], row: Row, count: int) -> None:
        number = self.number[row]
        used[number] = used.get(number, 0) + count


class _Quiet(highspy.Highs):
    """Without the callbacks of Highs, which print a banner before they can be told not to."""

    def __init__(self) -> None:
        super(highspy.Highs, self).__init__()


def _quiet_solver() -> highspy.Highs:
    """One thread and one seed, so that the same input takes the same steps."""
    solver = _Quiet()
    for option, value in (
        ("output_flag", False),
        ("threads", 1),
        ("random_seed", 0),
    ):
        solver.setOptionValue(option, value)
    return solver


class Master:
    """The linear choice of routes, warm from one solution to the next."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.limits = problem, Limits(problem)
        self.columns: list[Column] = []
        self._known: set[tuple[int, tuple[int, ...]]] = set()
        self._barred: set[int] = set()
        self._solver = _quiet_solver()
        must = {("shift", shift.number, 0) for shift in problem.shifts if shift.fixed}
        for row, number in self.limits.number.items():
            upper = self.limits.upper[number]
            self._solver.addRow(1 if row in must else -highspy.kHighsInf, upper, 0, [], [])

    def add(self, columns: Iterable[Column]) -> int:
        """Columns not yet known; how many there were."""
        fresh = []
        for column in columns:
            if column.key not in self._known:
                self._known.add(column.key)
                fresh.append(column)
        if fresh:
            _add_columns(self._solver, self.limits, fresh)
            self.columns += fresh
        return len(fresh)

    def bar(self, numbers: Sequence[int]) -> None:
        """Let these columns be chosen no more."""
        self._barred |= set(numbers)
        for number in numbers:
            self._solver.changeColBounds(number, 0, 0)

    def fix(self, number: int, value: int | None) -> None:
        """Let a column be taken or left out for certain; None: as the choice likes."""
        lower, upper = (0, highspy.kHighsInf) if value is None else (value, value)
        if number in self._barred:
            upper = 0
        self._solver.changeColBounds(number, lower, upper)

    def solve(self) -> tuple[float, Prices, np.ndarray]:
        """The value of the best linear choice, its prices, and how much of each column it takes."""
        if not self.columns:
            return 0.0, self._prices([0.0] * len(self.limits.upper)), np.zeros(0)
        self._solver.run()
        if self._solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"the linear choice ended with {self._solver.getModelStatus()}")
        solution = self._solver.getSolution()
        value = -self._solver.getInfo().objective_function_value
        return value, self._prices(solution.row_dual), np.array(solution.col_value)

    def _prices(self, duals: Sequence[float]) -> Prices:
        whole = [round(-dual * SCALE) for dual in duals]
        instance, number = self.problem.instance, self.limits.number
        days = range(len(instance.days))
        name = {self.problem.place[building.id]: building.id for building in instance.buildings}
        return Prices(
            orders=[max(0, whole[number["order", o, 0]]) for o in range(len(instance.orders))],
            impaired={
                (name[place], day): max(0, whole[number["impaired", place, day]])
                for place in self.limits.shared_buildings
                for day in days
            },
            stock=[
                [max(0, whole[number["stock", depot, day]]) for day in days]
                for depot in range(len(instance.depots))
            ],
            shifts=[whole[number["shift", s.number, 0]] for s in self.problem.shifts],
        )


def _add_columns(
    solver: highspy.Highs,
    limits: Limits,
    columns: Sequence[Column],
    upper: float = highspy.kHighsInf,
) -> None:
    uses = [limits.uses(column) for column in columns]
    ends = np.cumsum([0, *(len(used) for used in uses)], dtype=np.int32)
    rows = np.fromiter((row for used in uses for row in used), np.int32, int(ends[-1]))
    counts = np.fromiter((n for used in uses for n in used.values()), float, int(ends[-1]))
    worth = np.array([-column.value for column in columns], float)
    zero = np.zeros(len(columns))
    solver.addCols(len(columns), worth, zero, zero + upper, int(ends[-1]), ends[:-1], rows, counts)


@dataclass(frozen=True)
class Choice:
    routes: dict[int, tuple[int, ...]]
    value: int
    is_best: bool  # proven among the columns given
    nodes: int


def choose(
    limits: Limits,
    columns: Sequence[Column],
    *,
    beside: Routes | None = None,
    start: Routes | None = None,
    nodes: int,
    demand: int | None = None,
) -> Choice | None:
    """The best whole choice of columns beside routes that stay; None where there is none.

    `start` is a choice to begin from; the order `demand` must be among those done.
    """
    problem, beside = limits.problem, beside or {}
    room = _room(limits, beside)
    fitting = [c for c in columns if c.shift not in beside and _fits(limits, c, room)]
    if not fitting:
        return None
    solver = _quiet_solver()
    for option, value in (("mip_max_nodes", nodes), ("mip_rel_gap", 0.0), ("mip_abs_gap", 0.5)):
        solver.setOptionValue(option, value)
    must = {limits.number["shift", s.number, 0] for s in problem.shifts if s.fixed}
    must -= {limits.number["shift", number, 0] for number in beside}
    if demand is not None:
        must.add(limits.number["order", demand, 0])
    for row, upper in enumerate(room):
        solver.addRow(1 if row in must else -highspy.kHighsInf, upper, 0, [], [])
    _add_columns(solver, limits, fitting, 1)
    whole = np.full(len(fitting), highspy.HighsVarType.kInteger)
    solver.changeColsIntegrality(len(fitting), np.arange(len(fitting), dtype=np.int32), whole)
    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = [float(start.get(c.shift) == c.orders) for c in fitting]
        solver.setSolution(solution)
    solver.run()
    info = solver.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    taken = [c for c, x in zip(fitting, solver.getSolution().col_value, strict=True) if x > 0.5]
    return Choice(
        {column.shift: column.orders for column in taken},
        sum(column.value for column in taken),
        solver.getModelStatus() == highspy.HighsModelStatus.kOptimal,
        max(0, int(info.mip_node_count)),
    )


def _room(limits: Limits, beside: Mapping[int, tuple[int, ...]]) -> list[int]:
    room = list(limits.upper)
    for shift, orders in beside.items():
        for row, count in limits.uses(Column(shift, orders, 0)).items():
            room[row] -= count
    return room


def _fits(limits: Limits, column: Column, room: Sequence[int]) -> bool:
    return all(count <= room[row] for row, count in limits.uses(column).items())
