"""The plan of crews and days: the best that was found, how far it can be from the best there is.

    plan = plan_crews(read_instance(json.load(file)))

Work is limited by counts, never by the clock, so the same instance gives the same plan.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from importlib.util import find_spec

from scheduling.crews.board import Board, Routes, check_routes, fixed_board
from scheduling.crews.closing import close
from scheduling.crews.columns import Column, Master, choose, columns_of, is_true
from scheduling.crews.diving import dive
from scheduling.crews.freeing import Plan as Draft
from scheduling.crews.freeing import free_in_turn, promising
from scheduling.crews.greedy import delay_order, due_order, fill
from scheduling.crews.instance import Instance
from scheduling.crews.pricing import Memory
from scheduling.crews.problem import Problem
from scheduling.crews.reasons import BetterFound, LeftOut, why_left_out
from scheduling.crews.relaxing import REFINED_UNTIL, Relaxation, Search, Work

PLAIN_UNTIL = 60  # orders that plain Python searches; beyond, the compiled search is loaded
PROVABLE = 5e-4  # of the value: with many orders, a wider gap is too many routes to list


@dataclass(frozen=True)
class Limits:
    """How much work a run may do."""

    labels: int = 40_000_000
    closing_labels: int = 1_500_000
    closing_routes: int = 60_000
    nodes: int = 5_000
    sweeps: int = 6
    nearest_small: int = 10
    nearest_large: int = 8
    choose_whole_until: int = 30  # crews' days; more are freed in turn


@dataclass(frozen=True)
class Progress:
    """How far a run is; `routes` is a plan that can be used as it is."""

    stage: str  # "greedy", "columns", "choice", "proof", "reasons"
    value: int
    bound: int | None
    routes: Routes
    work: Work

    @property
    def gap(self) -> float | None:
        return gap(self.value, self.bound)


@dataclass(frozen=True)
class CrewPlan:
    problem: Problem
    routes: Mapping[int, tuple[int, ...]]  # by number of the shift
    value: int
    bound: int | None
    left_out: tuple[LeftOut, ...]
    moved: tuple[int, ...]  # orders whose customer was told another day
    work: Work
    due: int  # what the due-date order is worth
    delay: int  # what the cost-of-delay order is worth
    delay_done: int  # and how many orders it gets done

    @property
    def is_optimal(self) -> bool:
        return self.bound is not None and self.bound - self.value < 1

    @property
    def gap(self) -> float | None:
        return gap(self.value, self.bound)


class StopPlanning(Exception):
    """Raised by whoever watches the progress: the plan so far will do."""


def gap(value: int, bound: int | None) -> float | None:
    return None if bound is None else (bound - value) / max(1, abs(value))


def plan_crews(
    instance: Instance,
    *,
    limits: Limits | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    start: Routes | None = None,
) -> CrewPlan:
    """The best plan found, with its bound and a reason for every order left out.

    `start` is a plan of an earlier run, used where it still holds. InstanceError names a fixed
    booking that cannot be kept.
    """
    run = _Run(Problem(instance), limits or Limits(), on_progress or (lambda _: None))
    return run.plan(start)


@dataclass
class _Run:
    problem: Problem
    limits: Limits
    on_progress: Callable[[Progress], None]
    work: Work = field(default_factory=Work)
    best: Draft = field(default_factory=lambda: Draft({}, 0))
    bound: int | None = None
    stage: str = "greedy"

    def plan(self, start: Routes | None) -> CrewPlan:
        due, delay = due_order(self.problem), delay_order(self.problem)
        boards = [due, delay, *self._usable(start)]
        filled = [Board(self.problem, board.routes) for board in boards]
        for board in filled:
            fill(board)
        self.master = Master(self.problem)
        self._take(fixed_board(self.problem))
        for board in (*boards, *filled):
            self._take(board)
        self.relaxation = Relaxation(
            self.problem,
            self.master,
            self._search(),
            Memory(self._nearest()),
            self.work,
            self.limits.labels,
            on_round=lambda: self._tell("columns"),
        )
        with suppress(StopPlanning):
            self._improve()
        left_out = self._reasons()
        return CrewPlan(
            self.problem,
            self.best.routes,
            self.best.value,
            self.bound,
            tuple(left_out),
            self._moved(),
            self.work,
            due.value,
            delay.value,
            len(delay.owner),
        )

    def _usable(self, start: Routes | None) -> list[Board]:
        if not start or check_routes(self.problem, start):
            return []
        return [Board(self.problem, start)]

    def _take(self, board: Board) -> None:
        self.master.add(columns_of(board))
        if not self.best.routes or board.value > self.best.value:
            self.best.routes, self.best.value = dict(sorted(board.routes.items())), board.value

    def _is_small(self) -> bool:
        """Few enough orders to look for a proof whatever the gap."""
        return len(self.problem.orders) <= REFINED_UNTIL

    def _search(self) -> Search:
        # The compiler weighs more than the rest of the program, so it is an extra; without it the
        # plain search finds the same routes in many times the time.
        if len(self.problem.orders) <= PLAIN_UNTIL or find_spec("numba") is None:
            from scheduling.crews.labels import search

            return search
        from scheduling.crews.compiled import search as compiled

        return compiled

    def _nearest(self) -> int:
        return self.limits.nearest_small if self._is_small() else self.limits.nearest_large

    def _tell(self, stage: str) -> None:
        self.stage = stage
        if self.relaxation.bound and (
            self.bound is None or self.relaxation.bound.value < self.bound
        ):
            self.bound = self.relaxation.bound.value
        self.on_progress(
            Progress(stage, self.best.value, self.bound, dict(self.best.routes), self.work)
        )

    def _improve(self) -> None:
        self.relaxation.run()
        self._tell("columns")
        if len(self.problem.shifts) <= self.limits.choose_whole_until:
            self._choose_whole()
        if self.bound is None or self.best.value < self.bound:
            self._take(dive(self.problem, self.master, self.relaxation))
            self._tell("choice")
            self._free()
        self._tell("choice")
        self._prove()

    def _choose_whole(self) -> None:
        columns = [c for found in self._promising().values() for c in found]
        start = self.best.routes
        chosen = choose(self.master.limits, columns, start=start, nodes=self.limits.nodes)
        if chosen:
            self.work.nodes += chosen.nodes
            if chosen.value > self.best.value:
                self.best.routes, self.best.value = (
                    dict(sorted(chosen.routes.items())),
                    chosen.value,
                )

    def _promising(self) -> dict[int, list[Column]]:
        bound, columns = self.relaxation.bound, self.master.columns
        return promising(self.problem, columns, bound, self.best.value)

    def _free(self) -> None:
        free_in_turn(
            self.problem,
            self.master.limits,
            self.master.columns,
            self.relaxation.bound,
            self.best,
            rounds=self.limits.sweeps,
            work=self.work,
            on_better=lambda: self._tell("choice"),
        )

    def _prove(self) -> None:
        if self.relaxation.bound is None or self.bound is None:
            return
        if not self._is_small() and self.bound - self.best.value > PROVABLE * self.best.value:
            return
        self._tell("proof")
        closed = close(
            self.problem,
            self.master.limits,
            self.relaxation.bound,
            self.best.routes,
            self.best.value,
            work=self.work,
            most_labels=self.work.labels + self.limits.closing_labels,
            most_routes=self.limits.closing_routes,
            most_nodes=self.limits.nodes,
        )
        if closed:
            self.best = Draft(dict(sorted(closed.routes.items())), closed.value)
            self.bound = closed.value

    def _reasons(self) -> list[LeftOut]:
        """Reasons for what is left out; a better plan found on the way is taken."""
        while True:
            pool, holding = self._pools()
            try:
                return why_left_out(
                    self.problem, self.master.limits, self.best.routes, pool, holding
                )
            except BetterFound as better:
                self._take(Board(self.problem, better.routes))

    def _pools(self) -> tuple[dict[int, list[Column]], dict[int, list[Column]]]:
        """Promising columns by shift, and by order all true ones that hold it, the best first."""
        every = [c for c in self.master.columns if is_true(self.problem, c.orders)]
        holding: dict[int, list[Column]] = {}
        for column in sorted(every, key=lambda column: (-column.value, column.key)):
            for order in column.orders:
                holding.setdefault(order, []).append(column)
        return self._promising(), holding

    def _moved(self) -> tuple[int, ...]:
        board = Board(self.problem, self.best.routes)
        shifts = self.problem.shifts
        return tuple(
            number
            for number, order in enumerate(self.problem.orders)
            if order.told is not None
            and (number not in board.owner or shifts[board.owner[number]].day != order.told)
        )
