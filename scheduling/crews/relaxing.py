"""The linear choice over all routes: columns made where prices ask for them, and a proven bound.

For any prices, none below zero for what is limited,

    bound = sum of price x what there is + sum over crews' days of max(0, best route at the prices)

is worth no less than any plan; where bookings are fixed, a route is compulsory and 0 is no choice.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from scheduling.crews.columns import Column, Master, column_found, is_true
from scheduling.crews.pricing import SCALE, Found, Memory, Menu, Prices, menu
from scheduling.crews.problem import Problem, Shift

ROUTES_A_SEARCH = 10
QUICK_MENU = 40  # orders that the first quick searches look at
BATCHES_FROM, BATCHES = 40, 4  # from so many crews' days on, a quick round looks at every fourth
REFINED_UNTIL = 80  # orders: beyond, forgetting is not mended and the last trifle not waited for
ENOUGH = 5e-4  # of the value: a bound that near to the linear choice is left alone


class Search(Protocol):
    def __call__(self, menu: Menu, *, is_quick: bool, limit: int) -> Found: ...


@dataclass
class Work:
    """Counts of work, by which a run is limited: the same input does the same work."""

    labels: int = 0
    rounds: int = 0
    columns: int = 0
    nodes: int = 0
    freed: int = 0


@dataclass(frozen=True)
class Bound:
    """No plan is worth more than `scaled` / 1024: made of these prices and most of each day."""

    scaled: int
    prices: Prices
    terms: tuple[int, ...]  # by shift

    @property
    def value(self) -> int:
        return self.scaled // SCALE


@dataclass
class Relaxation:
    """Makes columns in rounds; `bound` is the best of all complete rounds, None before them."""

    problem: Problem
    master: Master
    search: Search
    memory: Memory
    work: Work
    most_labels: int
    on_round: Callable[[], None] = lambda: None
    bound: Bound | None = None
    _last: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def run(self) -> None:
        self._quick_rounds(QUICK_MENU)
        self._quick_rounds(len(self.problem.orders))
        while self._exact_rounds() and self._refine():
            pass

    def quick_round(self, shifts: Sequence[Shift]) -> int:
        """Columns for these days at the present prices, found quickly; how many were new."""
        if self._is_spent():
            return 0
        _, prices, _ = self._solve()
        most = len(self.problem.orders)
        return sum(
            self._keep(shift, self._ask(shift, prices, most=most), prices, prices)
            for shift in shifts
        )

    @property
    def is_small(self) -> bool:
        return len(self.problem.orders) <= REFINED_UNTIL

    def _is_spent(self) -> bool:
        return self.work.labels >= self.most_labels

    def _quick_rounds(self, most: int) -> None:
        shifts = self.problem.shifts
        batches = BATCHES if len(shifts) >= BATCHES_FROM else 1
        idle, turn = 0, 0
        while idle < batches and not self._is_spent():
            _, prices, _ = self._solve()
            made = 0
            for shift in shifts[turn % batches :: batches]:
                found = self._ask(shift, prices, most=most)
                made += self._keep(shift, found, prices, prices)
            idle, turn = (0 if made else idle + 1), turn + 1

    def _exact_rounds(self) -> bool:
        """Until no route improves the linear choice or the bound will do; False: cut short."""
        is_smooth = True
        while not self._is_spent():
            value, prices, self._last = self._solve()
            if self._is_near_enough(value):
                return True
            asked = prices
            if is_smooth and self.bound:
                asked = self.bound.prices.halfway(prices)
            terms, made = [], 0
            for shift in self.problem.shifts:
                found = self._ask(shift, asked)
                if not found.is_complete:
                    return False
                terms.append(_term(shift, found, asked))
                made += self._keep(shift, found, asked, prices)
            self._bound(asked, terms)
            if not made and asked is prices:
                return True
            is_smooth = made > 0
        return False

    def _is_near_enough(self, value: float) -> bool:
        if self.bound is None or self.is_small:
            return False
        return self.bound.scaled / SCALE - value < ENOUGH * abs(value)

    def _bound(self, prices: Prices, terms: Sequence[int]) -> None:
        scaled = prices.paid(self.problem) + sum(terms)
        if self.bound is None or scaled < self.bound.scaled:
            self.bound = Bound(scaled, prices, tuple(terms))

    def _solve(self) -> tuple[float, Prices, np.ndarray]:
        solved = self.master.solve()
        self.work.rounds += 1
        self.on_round()
        return solved

    def _ask(self, shift: Shift, prices: Prices, most: int | None = None) -> Found:
        floor = prices.shifts[shift.number]
        memory = Memory() if most is not None else self.memory
        asked = menu(self.problem, shift, prices, memory, threshold=floor, most=most)
        limit = max(0, self.most_labels - self.work.labels)
        found = self.search(asked, is_quick=most is not None, limit=limit)
        self.work.labels += found.labels
        return found

    def _keep(self, shift: Shift, found: Found, asked: Prices, true: Prices) -> int:
        """Columns of the best routes found that pay at the true prices."""
        columns = []
        for gross, orders in found.routes[:ROUTES_A_SEARCH]:
            column = column_found(asked, self.problem, shift, gross, orders)
            paid = sum(shift.stops[order].worth * SCALE for order in orders)
            paid -= sum(true.net(self.problem, shift, order) for order in orders)
            if column.value * SCALE - paid > true.shifts[shift.number]:
                columns.append(column)
        made = self.master.add(columns)
        self.work.columns += made
        return made

    def _refine(self) -> bool:
        """Remember what the linear choice forgot; False where it holds true routes alone."""
        if not self.is_small:
            return False
        columns = self.master.columns
        false = [
            number
            for number, share in enumerate(self._last)
            if share > 1e-6 and not is_true(self.problem, columns[number].orders)
        ]
        for number in false:
            self._remember(columns[number])
        self.master.bar(false)
        return bool(false)

    def _remember(self, column: Column) -> None:
        orders, rivals = column.orders, self.problem.rivals
        for first, one in enumerate(orders):
            for second in range(first + 1, len(orders)):
                again = orders[second]
                if again == one or again in rivals[one]:
                    for between in orders[first + 1 : second]:
                        self.memory.also.setdefault(between, set()).add(again)


def _term(shift: Shift, found: Found, prices: Prices) -> int:
    """The most that this day adds: nothing above the threshold was missed."""
    least = prices.shifts[shift.number]
    best = least if found.best is None else max(least, found.best)
    return best if shift.fixed else max(0, best)
