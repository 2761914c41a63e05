"""Filling a crew's days: each order on the first day that takes it, where it costs least to drive.

What a day cannot hold goes to the next and is said, with the rule that kept it out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.utils.translation import gettext

from scheduling.crews import Board, Refusal, Shift, timed_steps, walk
from scheduling.crews.board import insertions
from scheduling.crews.walk import best_cost
from scheduling.models import Crew, Task
from scheduling.planning.book import (
    MOST_DAYS,
    Week,
    bookings,
    clock_of,
    minute_on,
    order_id,
    read,
)
from scheduling.planning.facts import crews_of
from scheduling.planning.words import day_words, order_words, refusal_words

WEEKS = 2
SOON = timedelta(minutes=15)


@dataclass(frozen=True)
class Placed:
    task: Task
    starts_at: datetime
    ends_at: datetime


@dataclass
class Filled:
    """Where each order goes, what was put off to a later day and why, and what fits on none."""

    placed: list[Placed] = field(default_factory=list)
    later: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


def fill_days(
    tasks: Sequence[Task],
    crew: Crew,
    first: date,
    *,
    now: datetime,
    sets_out: int | None = None,
    minutes: int | None = None,
) -> Filled:
    """`sets_out`: minute after midnight at which the crew leaves on the first day; `minutes`: what
    each order takes, in place of what its kind and volume say."""
    filled, waiting = Filled(), list(tasks)
    why: dict[int, str] = {}
    zone = clock_of(crew.organisation, tasks)
    for number in range(WEEKS):
        begin = first + timedelta(days=MOST_DAYS * number)
        days = [begin + timedelta(days=n) for n in range(MOST_DAYS)]
        fixed = bookings(crew.organisation, days[0], days[-1], zone)
        fixed = [task for task in fixed if task not in tasks]
        today = now.astimezone(zone).date()
        leaves = sets_out if number == 0 else None
        if begin == today:
            leaves = max(leaves or 0, minute_on(now + SOON, today, zone))
        week = read(
            crew.organisation, days, zone=zone, now=now, fixed=fixed, free=waiting,
            crews=_with(crew), minutes=minutes, sets_out={crew.pk: leaves} if leaves else {},
        )  # fmt: skip
        waiting = _fill_week(week, crew, waiting, filled, why)
        if not waiting:
            break
    for task in waiting:
        text = gettext("{order}: no day until {last} takes it. {why}")
        last = first + timedelta(days=WEEKS * MOST_DAYS - 1)
        filled.left.append(
            text.format(order=order_words(task), last=day_words(last), why=why.get(task.pk, ""))
        )
    return filled


def _with(crew: Crew) -> list[Crew]:
    crews = crews_of(crew.organisation)
    return crews if crew in crews else [*crews, crew]


def _fill_week(
    week: Week, crew: Crew, tasks: Sequence[Task], filled: Filled, why: dict[int, str]
) -> list[Task]:
    """What found no place in these days."""
    board, waiting = Board(week.problem), []
    for shift in week.problem.shifts:
        if shift.fixed:
            board.put(shift, shift.fixed)
    at = week.crew_number(crew)
    for task in tasks:
        number = week.number(task)
        put = _put(week, board, at, number, task, why)
        if put is None:
            waiting.append(task)
        elif task.pk in why:
            filled.later.append(
                gettext("{order} goes to {day}. {why}").format(
                    order=order_words(task), day=day_words(week.days[put]), why=why[task.pk]
                )
            )
    mine = {task.pk: task for task in tasks}
    for number, sequence in sorted(board.routes.items()):
        shift = week.problem.shifts[number]
        if shift.crew == at:
            filled.placed += _placed(week, shift, sequence, mine)
    return waiting


def _put(
    week: Week, board: Board, crew: int | None, number: int, task: Task, why: dict[int, str]
) -> int | None:
    """The first day that takes the order; `why` keeps what spoke against the first one."""
    problem = week.problem
    for shift in problem.shifts:
        if shift.crew != crew:
            continue
        sequence = board.routes.get(shift.number, ())
        found = [
            (cost, candidate)
            for candidate in insertions(sequence, number)
            if (cost := best_cost(problem, shift, candidate)) is not None
            and board.shared_refusal(shift, candidate) is None
        ]
        if found:
            board.put(shift, min(found)[1])
            return shift.day
        if task.pk not in why:
            why[task.pk] = _said(week, board, shift, number)
    return None


def _said(week: Week, board: Board, shift: Shift, number: int) -> str:
    """What the order runs into at the end of that day."""
    sequence = (*board.routes.get(shift.number, ()), number)
    found: Refusal | None | object = walk(week.problem, shift, sequence)
    if not isinstance(found, Refusal):
        found = board.shared_refusal(shift, sequence)
    if not isinstance(found, Refusal):
        return ""
    return refusal_words(week, found, week.crews[shift.crew], week.days[shift.day])


def _placed(
    week: Week, shift: Shift, sequence: Sequence[int], mine: dict[int, Task]
) -> list[Placed]:
    tasks = {order_id(task): task for task in mine.values()}
    return [
        Placed(
            tasks[step["order"]],
            week.instant(shift.day, step["start"]),
            week.instant(shift.day, step["end"]),
        )
        for step in timed_steps(week.problem, shift, sequence)
        if step["do"] == "work" and step["order"] in tasks
    ]
