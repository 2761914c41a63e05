"""Where one order could go in a week: for each crew and day a time with its price, or a reason."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext

from scheduling.crews import Board, Refusal, Shift, timed_steps, walk
from scheduling.crews.board import insertions
from scheduling.crews.instance import loss
from scheduling.models import Crew, Task
from scheduling.planning.book import Week, bookings, clock_of, order_id, read
from scheduling.planning.facts import crews_of
from scheduling.planning.words import day_words, points_words, refusal_words


@dataclass(frozen=True)
class Option:
    """A crew's day. Without a time `why` says what keeps the order out.

    `costs`: thousandths of a point more than where the order is now, less where it is negative.
    """

    crew: Crew
    day: date
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    costs: int = 0
    why: str = ""
    is_present: bool = False

    @property
    def code(self) -> str:
        return f"{self.crew.pk}-{self.day.isoformat()}"

    @property
    def price(self) -> str:
        return points_words(self.costs)


def options(task: Task, first_on: date, *, now: datetime) -> list[Option]:
    """By day, then crew; only days that are not over."""
    zone = clock_of(task.assigned_to, [task])
    today = now.astimezone(zone).date()
    days = [first_on + timedelta(days=number) for number in range(7)]
    days = [day for day in days if day >= today]
    crews = crews_of(task.assigned_to)
    if not days or not crews:
        return []
    others = [
        other
        for other in bookings(task.assigned_to, days[0], days[-1], zone)
        if other.pk != task.pk
    ]
    leaves = {}
    if days[0] == today:
        local = now.astimezone(zone)
        leaves = {crew.pk: local.hour * 60 + local.minute + 15 for crew in crews}
    length = round((task.ends_at - task.starts_at).total_seconds() / 60) if task.is_booked else None
    week = read(
        task.assigned_to, days, zone=zone, now=now, fixed=others, free=[task], crews=crews,
        minutes=length, sets_out=leaves,
    )  # fmt: skip
    board = Board(week.problem)
    for shift in week.problem.shifts:
        if shift.fixed:
            board.put(shift, shift.fixed)
    number = week.number(task)
    present = _present(week, board, task, number)
    found = []
    for day in range(len(days)):
        for at, crew in enumerate(week.crews):
            found.append(_option(week, board, task, number, at, crew, day, present))
    return found


def _present(week: Week, board: Board, task: Task, number: int) -> int:
    """What the order costs where it is now: its loss, and the way to it that would be saved."""
    order = week.problem.instance.orders[number]
    last = week.problem.instance.left_out_offset
    if not task.is_booked or task.crew is None:
        return loss(order, last, None)
    day = task.starts_at.astimezone(week.zone).date()
    at = week.crew_number(task.crew)
    if day not in week.days or at is None:
        return loss(order, last, None)
    index = week.days.index(day)
    shift = week.problem.shift_at.get((at, index))
    more = _cheapest(week, board, shift, number) if shift else None
    return loss(order, week.problem.instance.days[index].offset, index) + (more[0] if more else 0)


def _cheapest(
    week: Week, board: Board, shift: Shift, number: int
) -> tuple[int, tuple[int, ...]] | None:
    if number not in shift.stops:
        return None
    best: tuple[int, tuple[int, ...]] | None = None
    for sequence in insertions(board.routes.get(shift.number, ()), number):
        found = walk(week.problem, shift, sequence)
        if isinstance(found, Refusal) or board.shared_refusal(shift, sequence):
            continue
        more = found.cost - board.costs.get(shift.number, 0)
        if best is None or more < best[0]:
            best = more, sequence
    return best


def _option(
    week: Week,
    board: Board,
    task: Task,
    number: int,
    at: int,
    crew: Crew,
    day: int,
    present: int,
) -> Option:
    problem, on = week.problem, week.days[day]
    booked_on = task.starts_at.astimezone(week.zone).date() if task.is_booked else None
    is_present = booked_on == on and task.crew_id == crew.pk
    shift = problem.shift_at.get((at, day))
    if shift is None:
        text = gettext("{crew} does not go out on {day}.")
        if (at, day) in week.set_aside:
            text = gettext("The bookings of {crew} on {day} break a rule already.")
        return Option(
            crew, on, why=text.format(crew=crew, day=day_words(on)), is_present=is_present
        )
    best = _cheapest(week, board, shift, number)
    if best is None:
        why = _why_not(week, board, shift, number, crew, on)
        return Option(crew, on, why=why, is_present=is_present)
    more, sequence = best
    order = problem.instance.orders[number]
    step = next(
        step
        for step in timed_steps(problem, shift, sequence)
        if step.get("order") == order_id(task)
    )
    costs = loss(order, problem.instance.days[day].offset, day) + more - present
    return Option(
        crew,
        on,
        week.instant(day, step["start"]),
        week.instant(day, step["end"]),
        costs,
        is_present=is_present,
    )


def _why_not(week: Week, board: Board, shift: Shift, number: int, crew: Crew, on: date) -> str:
    refusals: list[tuple[int, Refusal]] = []
    for sequence in insertions(board.routes.get(shift.number, ()), number):
        found = walk(week.problem, shift, sequence)
        refusal = found if isinstance(found, Refusal) else board.shared_refusal(shift, sequence)
        if refusal:
            numbers = refusal.numbers
            over = numbers["home"] - numbers["by"] if "home" in numbers else 10_000
            refusals.append((over, refusal))
    nearest = min(refusals, key=lambda row: row[0])[1]
    return refusal_words(week, nearest, crew, on)


def chosen(found: Sequence[Option], code: str) -> Option | None:
    return next((option for option in found if option.code == code), None)
