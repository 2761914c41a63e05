"""When something is due, in words that need no arithmetic; days are those of the site."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from scheduling.models import Task

SOON = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class DueWords:
    text: str
    is_late: bool


def due_words(task: Task, now: datetime) -> DueWords:
    today = now.astimezone(task.zone).date()
    if task.due_at <= now:
        return DueWords(_late((today - task.due_on).days), True)
    if task.opens_at and task.opens_at > now:
        return DueWords(f"Counts from {day(task.opens_at.astimezone(task.zone).date())}", False)
    return DueWords(_ahead((task.due_on - today).days, task.due_on), False)


def group_of(task: Task, now: datetime) -> str:
    """overdue, soon or later."""
    if task.due_at <= now:
        return "overdue"
    return "soon" if task.due_at <= now + SOON else "later"


def day(when: date) -> str:
    return f"{when:%-d %B %Y}"


def _late(days: int) -> str:
    if days <= 0:
        return "Late since today"
    return "1 day late" if days == 1 else f"{days} days late"


def _ahead(days: int, last: date) -> str:
    if days <= 0:
        return "Due today"
    if days == 1:
        return "Due tomorrow"
    return f"Due in {days} days" if days <= SOON.days else f"Due by {day(last)}"
