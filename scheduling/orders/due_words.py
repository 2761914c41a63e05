"""When something is due, in words that need no arithmetic; days are those of the site."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext, ngettext

from registry.words.spoken import day_words
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
        opens_on = day(task.opens_at.astimezone(task.zone).date())
        return DueWords(gettext("Window opens %(day)s") % {"day": opens_on}, False)
    return DueWords(_ahead((task.due_on - today).days, task.due_on), False)


def group_of(task: Task, now: datetime) -> str:
    """protection, overdue, soon or later."""
    if task.work.is_about_protection:
        return "protection"
    if task.due_at <= now:
        return "overdue"
    return "soon" if task.due_at <= now + SOON else "later"


def day(when: date) -> str:
    return day_words(when)


def _late(days: int) -> str:
    if days <= 0:
        return gettext("Late since today")
    return ngettext("%(days)s day late", "%(days)s days late", days) % {"days": days}


def _ahead(days: int, last: date) -> str:
    if days <= 0:
        return gettext("Due today")
    if days == 1:
        return gettext("Due tomorrow")
    if days <= SOON.days:
        return ngettext("Due in %(days)s day", "Due in %(days)s days", days) % {"days": days}
    return gettext("Due by %(day)s") % {"day": day(last)}
