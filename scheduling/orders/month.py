"""Bookings laid out on days: a month by weeks, and a week by crews."""

import calendar
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from scheduling.forms.orders import planned
from scheduling.models import Crew, Task
from scheduling.orders.day import day_of
from scheduling.orders.due_words import DueWords

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True)
class MonthEntry:
    """A booking in its cell; what may be moved carries its times along."""

    task: Task
    may_move: bool
    due: DueWords | None = None

    @property
    def starts(self) -> datetime:
        return self.task.starts_at.astimezone(self.task.zone)

    @property
    def times(self) -> dict[str, Any]:
        return planned(self.task)

    @property
    def step(self) -> str:
        return "move" if self.task.is_booked else "book"


@dataclass
class Cell:
    day: date
    is_outside: bool = False
    crew: Crew | None = None
    entries: list[MonthEntry] = field(default_factory=list)


@dataclass(frozen=True)
class CrewWeek:
    """Of the week: one crew, or what no crew was named for."""

    name: str
    cells: Sequence[Cell]


def weeks_of(month: date) -> list[list[date]]:
    """Whole weeks from Monday that hold the month."""
    return calendar.Calendar().monthdatescalendar(month.year, month.month)


def week_of(day: date) -> list[date]:
    monday = day - timedelta(days=day.weekday())
    return [monday + timedelta(days=number) for number in range(7)]


def month_before(month: date) -> date:
    return (month.replace(day=1) - timedelta(days=1)).replace(day=1)


def month_after(month: date) -> date:
    return (month.replace(day=28) + timedelta(days=4)).replace(day=1)


def month_grid(month: date, tasks: Iterable[Task], movable: set[int]) -> list[list[Cell]]:
    grid = [
        [Cell(day, is_outside=day.month != month.month) for day in week] for week in weeks_of(month)
    ]
    by_day = {cell.day: cell for week in grid for cell in week}
    for task in tasks:
        by_day[day_of(task)].entries.append(MonthEntry(task, task.pk in movable))
    return grid


def week_rows(
    days: Sequence[date], crews: Iterable[Crew], tasks: Iterable[Task], movable: set[int]
) -> list[CrewWeek]:
    """Every crew has its row, also when it has nothing to do; nothing is left out."""
    rows = {crew.pk: _row(crew, days) for crew in crews}
    no_crew = CrewWeek("No crew named", [Cell(day) for day in days])
    for task in tasks:
        row = rows.setdefault(task.crew.pk, _row(task.crew, days)) if task.crew else no_crew
        row.cells[days.index(day_of(task))].entries.append(MonthEntry(task, task.pk in movable))
    return [*rows.values(), no_crew]


def _row(crew: Crew, days: Sequence[date]) -> CrewWeek:
    return CrewWeek(str(crew), [Cell(day, crew=crew) for day in days])
