"""A plan as timed steps, and as the file that another program can check."""

from collections.abc import Mapping, Sequence
from typing import Any

from scheduling.crews.planner import CrewPlan
from scheduling.crews.problem import Problem, Shift
from scheduling.crews.reasons import LeftOut, Why
from scheduling.crews.walk import Leg, Refusal, Walk, after_break, first_start, walk

PLAN_FORMAT = "crew-plan/1"
Step = dict[str, Any]


def plan_document(plan: CrewPlan) -> dict[str, Any]:
    problem = plan.problem
    return {
        "format": PLAN_FORMAT,
        "instance": problem.instance.name,
        "status": "optimal" if plan.is_optimal else "feasible",
        "value": plan.value,
        "bound": plan.bound,
        "gap": None if plan.gap is None else round(plan.gap, 9),
        "work": {
            "labels": plan.work.labels,
            "rounds": plan.work.rounds,
            "columns": plan.work.columns,
            "nodes": plan.work.nodes,
            "freed": plan.work.freed,
        },
        "routes": routes_document(problem, plan.routes),
        "left_out": [_reason(problem, reason) for reason in plan.left_out],
        "moved": [problem.orders[order].id for order in plan.moved],
    }


def _reason(problem: Problem, reason: LeftOut) -> dict[str, Any]:
    row: dict[str, Any] = {"order": problem.orders[reason.order].id, "kind": reason.why.value}
    if reason.why is not Why.CANNOT:
        row["displaces"] = [problem.orders[order].id for order in reason.displaces]
        row["costs_more"] = reason.costs_more
        row["routes"] = routes_document(problem, reason.routes or {})
    return row


def routes_document(problem: Problem, routes: Mapping[int, Sequence[int]]) -> list[dict[str, Any]]:
    rows = []
    for number, sequence in sorted(routes.items()):
        shift = problem.shifts[number]
        crew = problem.instance.crews[shift.crew].id
        steps = timed_steps(problem, shift, sequence) if sequence else []
        rows.append({"crew": crew, "day": shift.day, "steps": steps})
    return rows


def timed_steps(problem: Problem, shift: Shift, sequence: Sequence[int]) -> list[Step]:
    """What the crew does from minute to minute, with the full cylinders it takes on.

    It leaves the depot no earlier than it must to begin its first step in time.
    """
    found = walk(problem, shift, sequence)
    if isinstance(found, Refusal):
        raise ValueError(found.text)
    names = [place.id for place in problem.places]
    steps = _Steps(problem, shift, names).through(found)
    _load(problem, steps)
    first = steps[1]
    drive = problem.minutes[shift.home][problem.place[first["place"]]]
    steps[0]["start"] = steps[0]["end"] = max(shift.begin, first["start"] - drive)
    return steps


class _Steps:
    def __init__(self, problem: Problem, shift: Shift, names: Sequence[str]) -> None:
        self.problem, self.shift, self.names = problem, shift, names
        self.now, self.place = shift.begin, shift.home
        self.steps: list[Step] = [
            {"do": "leave", "place": names[self.place], "start": self.now, "end": self.now}
        ]

    def through(self, found: Walk) -> list[Step]:
        for order, leg in zip(found.sequence, found.legs, strict=False):
            stop = self.shift.stops[order]
            if leg in (Leg.DEPOT, Leg.DEPOT_BREAK_FIRST, Leg.DEPOT_BREAK_SECOND):
                self._go(self.shift.home, with_break=leg is Leg.DEPOT_BREAK_FIRST)
                self._do("restock", self.now, self.problem.restock_minutes)
            self._go(stop.place, with_break=leg in (Leg.BREAK, Leg.DEPOT_BREAK_SECOND))
            start = first_start(stop.windows, stop.minutes, self.now)
            assert start is not None  # walk() was there
            self._do("work", start, stop.minutes)
            self.steps[-1]["order"] = self.problem.orders[order].id
        self._go(self.shift.home, with_break=found.legs[-1] is Leg.BREAK)
        self._do("return", self.now, 0)
        return self.steps

    def _go(self, place: int, *, with_break: bool) -> None:
        drive, pause = self.problem.minutes[self.place][place], self.problem.pause
        if not with_break:
            self.now, self.place = self.now + drive, place
            return
        late = after_break(pause, self.now, drive)
        assert late is not None  # walk() was there
        if self.now + drive <= pause.closes:
            self.place = place
            self._do("break", late - pause.minutes, pause.minutes)
        else:
            self._do("break", late - drive - pause.minutes, pause.minutes)
            self.now, self.place = late, place

    def _do(self, what: str, start: int, minutes: int) -> None:
        place = self.names[self.place]
        self.steps.append({"do": what, "place": place, "start": start, "end": start + minutes})
        self.now = start + minutes


def _load(problem: Problem, steps: Sequence[Step]) -> None:
    """Whoever leaves the depot takes what is needed until the next time there."""
    needed = 0
    for step in reversed(steps):
        if step["do"] == "work":
            needed += problem.orders[problem.order_number[step["order"]]].cylinders
        elif step["do"] in ("restock", "leave"):
            step["cylinders"], needed = needed, 0
