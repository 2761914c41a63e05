"""The one check of a crew's day: can it do these orders in this sequence, and what does that cost?

A sequence names orders alone. Where the van goes back for cylinders and where the break lies is
found here, so that the day costs least. Every rule within one crew's day is asked in this module:
a booking by hand, a filled day, a drag and the planner get the same answer.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from scheduling.crews.instance import Pause, Span
from scheduling.crews.problem import Problem, Shift, Stop


class Rule(StrEnum):
    """What a refused day breaks."""

    AWAY = "away"
    SKILLS = "skills"
    VAN = "van"
    EARLIEST = "earliest"
    FIXED = "fixed"
    WINDOW = "window"
    HOURS = "hours"
    BREAK = "break"
    TWICE = "twice"
    IMPAIRED = "impaired"
    STOCK = "stock"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a day or a plan will not do; `order` is the one it fails at, where there is one.

    `text` speaks of the ids of the instance; `numbers` are what it says, for other words: minutes
    after midnight, cylinders, or the number of another order.
    """

    rule: Rule
    text: str
    order: int | None = None
    numbers: Mapping[str, int] = field(default_factory=dict)
    skills: tuple[str, ...] = ()


class Leg(StrEnum):
    """How the crew came to where it is."""

    DIRECT = "direct"
    BREAK = "break"
    DEPOT = "depot"
    DEPOT_BREAK_FIRST = "depot, break on the way there"
    DEPOT_BREAK_SECOND = "depot, break on the way from it"


class State(NamedTuple):
    time: int
    cost: int
    left: int
    broken: bool
    trail: "Trail | None"


class Trail(NamedTuple):
    leg: Leg
    before: "Trail | None"


@dataclass(frozen=True, slots=True)
class Walk:
    """A day that can be kept: what driving and overtime cost, when the crew is home, its legs."""

    sequence: tuple[int, ...]
    cost: int
    home: int
    legs: tuple[Leg, ...]  # one for each order and one for the way home


def after_break(pause: Pause, now: int, drive: int) -> int | None:
    """When the crew is there with its break taken; None when it is too late for one.

    On arrival where that is in time, which is never worse than before driving off.
    """
    arrives = now + drive
    if arrives <= pause.closes:
        return max(arrives, pause.opens) + pause.minutes
    if now <= pause.closes:
        return max(now, pause.opens) + pause.minutes + drive
    return None


def first_start(windows: tuple[Span, ...], minutes: int, arrives: int) -> int | None:
    """When the work can begin: in the first window that holds all of it."""
    for opens, closes in windows:
        start = max(arrives, opens)
        if start + minutes <= closes:
            return start
    return None


def best_cost(problem: Problem, shift: Shift, sequence: Sequence[int]) -> int | None:
    """Driving and overtime of the cheapest day through the sequence, or None."""
    found = _walk(problem, shift, sequence)
    return None if isinstance(found, Refusal) else found[0]


def walk(problem: Problem, shift: Shift, sequence: Sequence[int]) -> Walk | Refusal:
    """The cheapest day through the sequence, or the first rule that it cannot keep."""
    found = _walk(problem, shift, sequence)
    if isinstance(found, Refusal):
        return found
    cost, home, trail = found
    legs = []
    while trail:
        legs.append(trail.leg)
        trail = trail.before
    return Walk(tuple(sequence), cost, home, tuple(reversed(legs)))


def _walk(
    problem: Problem, shift: Shift, sequence: Sequence[int]
) -> tuple[int, int, Trail | None] | Refusal:
    stops = shift.stops
    for number, order in enumerate(sequence):
        if order not in stops:
            return _why_never(problem, shift, order)
        if order in sequence[:number]:
            return Refusal(Rule.TWICE, f"{_name(problem, order)} is in the day twice.", order)
    missing = [order for order in shift.fixed if order not in sequence]
    if missing:
        text = f"{_name(problem, missing[0])} is booked for this crew and day and must stay."
        return Refusal(Rule.MISSING, text, missing[0])
    restocks = sum(stops[order].cylinders for order in sequence) > shift.van
    states = [State(shift.begin, 0, shift.van, False, None)]
    place = shift.home
    for order in sequence:
        stop = stops[order]
        reached = [
            done
            for state in states
            for done in _visit(problem, shift, state, place, stop, restocks)
        ]
        if not reached:
            return _why_not_reached(problem, shift, states, place, stop)
        states, place = _undominated(reached), stop.place
    return _home(problem, shift, states, place)


def _visit(
    problem: Problem, shift: Shift, state: State, place: int, stop: Stop, restocks: bool
) -> Iterator[State]:
    """The ways to have done one order more."""
    for time, cost, left, broken, leg in _arrivals(problem, shift, state, place, stop, restocks):
        if stop.cylinders > left:
            continue
        start = first_start(stop.windows, stop.minutes, time)
        if start is None:
            continue
        end = start + stop.minutes
        if end + problem.minutes[stop.place][shift.home] > shift.latest:
            continue
        if broken or end <= problem.pause.closes:
            yield State(end, cost, left - stop.cylinders, broken, Trail(leg, state.trail))


def _arrivals(
    problem: Problem, shift: Shift, state: State, place: int, stop: Stop, restocks: bool
) -> Iterator[tuple[int, int, int, bool, Leg]]:
    now, cost, left, broken, _ = state
    pause, minute_cost = problem.pause, problem.minute_cost
    drive = problem.minutes[place][stop.place]
    then = cost + drive * minute_cost
    yield now + drive, then, left, broken, Leg.DIRECT
    if not broken:
        late = after_break(pause, now, drive)
        if late is not None:
            yield late, then, left, True, Leg.BREAK
    if not restocks or left == shift.van:
        return
    back, out = problem.minutes[place][shift.home], problem.minutes[shift.home][stop.place]
    then = cost + (back + out) * minute_cost
    full = now + back + problem.restock_minutes
    yield full + out, then, shift.van, broken, Leg.DEPOT
    if broken:
        return
    late = after_break(pause, now, back)
    if late is not None:
        yield late + problem.restock_minutes + out, then, shift.van, True, Leg.DEPOT_BREAK_FIRST
    late = after_break(pause, full, out)
    if late is not None:
        yield late, then, shift.van, True, Leg.DEPOT_BREAK_SECOND


def _undominated(states: list[State]) -> list[State]:
    if len(states) == 1:
        return states
    kept: list[State] = []
    for state in sorted(states, key=lambda s: (s.time, s.cost, -s.left, not s.broken)):
        if not any(
            one.cost <= state.cost and one.left >= state.left and one.broken >= state.broken
            for one in kept
        ):
            kept.append(state)
    return kept


def _home(
    problem: Problem, shift: Shift, states: list[State], place: int
) -> tuple[int, int, Trail | None] | Refusal:
    drive = problem.minutes[place][shift.home]
    best: tuple[int, int, Trail | None] | None = None
    soonest: int | None = None
    for state in states:
        arrives: int | None = state.time + drive
        leg = Leg.DIRECT
        if not state.broken and state.time + drive > problem.pause.closes:
            arrives, leg = after_break(problem.pause, state.time, drive), Leg.BREAK
        if arrives is None:
            continue
        soonest = arrives if soonest is None else min(soonest, arrives)
        if arrives > shift.latest:
            continue
        cost = state.cost + drive * problem.minute_cost
        cost += max(0, arrives - shift.end) * shift.overtime_cost
        if best is None or cost < best[0] or (cost == best[0] and arrives < best[1]):
            best = cost, arrives, Trail(leg, state.trail)
    if best is not None:
        return best
    if soonest is None:
        text = f"no break fits that begins by {clock(problem.pause.closes)}."
        return Refusal(Rule.BREAK, text, numbers={"by": problem.pause.closes})
    return _too_late(shift, soonest)


def _too_late(shift: Shift, home: int, order: int | None = None) -> Refusal:
    text = f"the crew would be back at {clock(home)}; it must be by {clock(shift.latest)}"
    numbers = {"home": home, "by": shift.latest}
    return Refusal(Rule.HOURS, f"{text}, overtime included.", order, numbers)


def _why_never(problem: Problem, shift: Shift, number: int) -> Refusal:
    """The first rule by which this crew may not do the order on this day at all."""
    order = problem.orders[number]
    crew = problem.instance.crews[shift.crew]
    day = problem.instance.days[shift.day]
    name = _name(problem, number)
    if order.fixed and (order.fixed.crew, order.fixed.day) != (crew.id, shift.day):
        text = f"{name} is booked for {order.fixed.crew} on day {order.fixed.day} and must stay."
        return Refusal(Rule.FIXED, text, number)
    if lacking := sorted(order.skills - crew.skills):
        text = f"{name} needs {', '.join(lacking)}; {crew.id} cannot."
        return Refusal(Rule.SKILLS, text, number, skills=tuple(lacking))
    if order.cylinders > crew.cylinders:
        text = f"{name} needs {order.cylinders} cylinders; the van of {crew.id} holds {shift.van}."
        numbers = {"needs": order.cylinders, "holds": shift.van}
        return Refusal(Rule.VAN, text, number, numbers)
    if day.offset < order.earliest:
        return Refusal(Rule.EARLIEST, f"{name} does not count before day {order.earliest}.", number)
    text = f"the building is not open long enough for {name} on {day.date}."
    if order.fixed:
        text = f"the building is not open at the booked time of {name} on {day.date}."
    return Refusal(Rule.WINDOW, text, number)


def _why_not_reached(
    problem: Problem, shift: Shift, states: list[State], place: int, stop: Stop
) -> Refusal:
    name = _name(problem, stop.order)
    arrives = min(state.time for state in states) + problem.minutes[place][stop.place]
    start = first_start(stop.windows, stop.minutes, arrives)
    if start is None:
        last = max(closes for _, closes in stop.windows) - stop.minutes
        text = (
            f"{name} could begin at {clock(arrives)}; it must by {clock(last)}, "
            "to be done while the building is open."
        )
        numbers = {"arrives": arrives, "last": last}
        return Refusal(Rule.WINDOW, text, stop.order, numbers)
    home = start + stop.minutes + problem.minutes[stop.place][shift.home]
    if home > shift.latest:
        return _too_late(shift, home, stop.order)
    # The work itself would fit, so it is the way back for cylinders or the break that does not.
    if all(stop.cylinders > state.left for state in states):
        text = f"there is no time to go back for the cylinders of {name}."
        return Refusal(Rule.VAN, text, stop.order)
    text = f"no break fits that begins by {clock(problem.pause.closes)} with {name} in the day."
    return Refusal(Rule.BREAK, text, stop.order, {"by": problem.pause.closes})


def _name(problem: Problem, order: int) -> str:
    return problem.orders[order].id


def clock(minute: int) -> str:
    after = " of the next day" if minute >= 24 * 60 else ""
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}{after}"
