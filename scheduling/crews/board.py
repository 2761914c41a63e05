"""The routes of a plan as a whole: what crews share, and what the plan is worth."""

from collections.abc import Iterable, Mapping, Sequence

from scheduling.crews.problem import Problem, Shift
from scheduling.crews.reading import InstanceError
from scheduling.crews.walk import Refusal, Rule, best_cost, walk

Routes = Mapping[int, tuple[int, ...]]  # by shift, orders in the sequence of the day


class Board:
    """Routes under work, with what they use of the things that crews share."""

    def __init__(self, problem: Problem, routes: Routes | None = None) -> None:
        self.problem = problem
        self.routes: dict[int, tuple[int, ...]] = {}
        self.costs: dict[int, int] = {}
        self.owner: dict[int, int] = {}
        self._drawn = [[0] * len(problem.instance.days) for _ in problem.instance.depots]
        for number, sequence in sorted((routes or {}).items()):
            if sequence:
                self.put(problem.shifts[number], sequence)

    def put(self, shift: Shift, sequence: Sequence[int]) -> None:
        """Let a day's route be this one, which must be possible."""
        cost = best_cost(self.problem, shift, sequence)
        if cost is None:
            raise ValueError(f"shift {shift.number} cannot do {list(sequence)}")
        self.clear(shift)
        self.routes[shift.number], self.costs[shift.number] = tuple(sequence), cost
        for order in sequence:
            self.owner[order] = shift.number
            self._drawn[shift.depot][shift.day] += shift.stops[order].cylinders

    def clear(self, shift: Shift) -> None:
        for order in self.routes.pop(shift.number, ()):
            del self.owner[order]
            self._drawn[shift.depot][shift.day] -= shift.stops[order].cylinders
        self.costs.pop(shift.number, None)

    def refusal(self, shift: Shift, sequence: Sequence[int]) -> Refusal | None:
        """Why this route may not stand beside the others, in place of the day's present one."""
        found = walk(self.problem, shift, sequence)
        return found if isinstance(found, Refusal) else self.shared_refusal(shift, sequence)

    def shared_refusal(self, shift: Shift, sequence: Sequence[int]) -> Refusal | None:
        """The same of what crews share alone: each order once, one impairment, cylinders."""
        names = self.problem.orders
        mine = set(self.routes.get(shift.number, ()))
        for position, order in enumerate(sequence):
            if order not in mine and order in self.owner:
                return Refusal(Rule.TWICE, f"{names[order].id} is done by another crew.", order)
            for rival in sorted(self.problem.rivals[order]):
                if rival in sequence[:position] or self._elsewhere(shift, rival):
                    text = (
                        f"{names[order].id} and {names[rival].id} would both impair "
                        f"{names[order].building} on this day; one system a building and day."
                    )
                    return Refusal(Rule.IMPAIRED, text, order, {"other": rival})
        return self._stock_refusal(shift, sequence)

    def _elsewhere(self, shift: Shift, order: int) -> bool:
        """Does another crew do it on the same day?"""
        owner = self.owner.get(order)
        if owner is None or owner == shift.number:
            return False
        return self.problem.shifts[owner].day == shift.day

    def _stock_refusal(self, shift: Shift, sequence: Sequence[int]) -> Refusal | None:
        orders, present = self.problem.orders, self.routes.get(shift.number, ())
        more = sum(orders[order].cylinders for order in sequence)
        more -= sum(orders[order].cylinders for order in present)
        if more <= 0:
            return None
        drawn, there = self._drawn[shift.depot], self.problem.stock[shift.depot]
        used = sum(drawn[: shift.day])
        for day in range(shift.day, len(drawn)):
            used += drawn[day]
            if used + more > there[day]:
                depot = self.problem.instance.depots[shift.depot].id
                when = self.problem.instance.days[day].date
                short = used + more - there[day]
                text = f"{depot} would be {short} cylinders short on {when}."
                return Refusal(Rule.STOCK, text, numbers={"short": short, "day": day})
        return None

    @property
    def value(self) -> int:
        saved = sum(
            self.problem.shifts[shift].stops[order].worth for order, shift in self.owner.items()
        )
        return saved - sum(self.costs.values())

    def left_out(self) -> list[int]:
        return [number for number in range(len(self.problem.orders)) if number not in self.owner]


def fixed_board(problem: Problem) -> Board:
    """A board with the fixed bookings alone; InstanceError where they cannot all be kept."""
    board = Board(problem)
    for number, order in enumerate(problem.orders):
        if order.fixed:
            crew = [crew.id for crew in problem.instance.crews].index(order.fixed.crew)
            if (crew, order.fixed.day) not in problem.shift_at:
                problem_is = (
                    f"“{order.id}” is booked for {order.fixed.crew}, which is away that day."
                )
                raise InstanceError(f"orders[{number}].fixed", problem_is)
    for shift in problem.shifts:
        if shift.fixed:
            if refusal := board.refusal(shift, shift.fixed):
                number = shift.fixed[0] if refusal.order is None else refusal.order
                text = (
                    f"the booking of “{problem.orders[number].id}” cannot be kept: {refusal.text}"
                )
                raise InstanceError(f"orders[{number}].fixed", text)
            board.put(shift, shift.fixed)
    return board


def check_routes(problem: Problem, routes: Routes) -> list[Refusal]:
    """Everything that is wrong with a whole plan; empty when it holds."""
    board, found = Board(problem), []
    for number, sequence in sorted(routes.items()):
        shift = problem.shifts[number]
        if refusal := board.refusal(shift, sequence):
            found.append(refusal)
        elif sequence:
            board.put(shift, sequence)
    missing = [
        Refusal(Rule.MISSING, f"the fixed booking {order.id} is missing.", number)
        for number, order in enumerate(problem.orders)
        if order.fixed and number not in board.owner
    ]
    return found or missing


def insertions(sequence: Sequence[int], order: int) -> Iterable[tuple[int, ...]]:
    for spot in range(len(sequence) + 1):
        yield (*sequence[:spot], order, *sequence[spot:])
