"""A follow-up as calendars see it, and the revision numbers that tell them what changed.

One that is overdue stands at today, as a whole day, and says how late it is; it is revised with
each day at its site. A time that was booked and is still to come stays.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from functools import cache

from django.conf import settings
from django.db.models import TextChoices
from django.urls import reverse

from registry.models import System
from registry.translation import in_english
from scheduling.calendars.ics import CalendarEntry, CalendarSlot, CalendarText
from scheduling.calendars.revisions import SHOWN, advance
from scheduling.follow_ups.protection_words import protection_line
from scheduling.models import Task, WorkState
from scheduling.recurrence import local_day
from scheduling.rules import rule_of
from scheduling.rules.cautions import WHO_DECIDES
from scheduling.rules.types import USUAL_PRIORITY

PREFIXES: dict[str, str] = {Task.Status.DONE: "Done: ", Task.Status.WITHDRAWN: "Withdrawn: "}


@cache
def label(choices: type[TextChoices], value: str) -> str:
    """The word for a choice, asked for once in the language that is kept: Django looks through all
    choices of the field each time."""
    return str(dict(choices.choices).get(value, value))


def location(system: System) -> str:
    lines = [system.building.name if system.building else "", system.site.name]
    lines += system.site.address.splitlines()
    return ", ".join(line.strip() for line in lines if line.strip())


def slot_of(task: Task, now: datetime) -> CalendarSlot:
    today = overdue_on(task, now)
    return CalendarSlot(
        task.starts_at if today is None else today,
        task.ends_at if today is None else today + timedelta(days=1),
        task.time_zone if today is None else "",
        location(task.system),
        task.status == Task.Status.WITHDRAWN,
        is_tentative=task.is_open and (today is not None or not task.is_booked),
        is_busy=_is_crew_out(task) and today is None,
    )


def overdue_on(task: Task, now: datetime) -> date | None:
    """Today at the site, of what is overdue and has no booked time still to come."""
    is_booked_ahead = task.is_booked and task.ends_at > now
    if not task.is_open or task.due_at > now or is_booked_ahead:
        return None
    return local_day(now, task.zone)


def days_late(task: Task, now: datetime) -> int | None:
    """None for what is in time or closed; 0 on the day on which it became late."""
    if not task.is_open or task.due_at > now:
        return None
    return (local_day(now, task.zone) - task.due_on).days


def lateness(days: int | None) -> str:
    """Before the summary of what is late. English, as all that is kept for calendars."""
    if days is None:
        return ""
    if days < 1:
        return "Late since today: "
    return f"{days} days late: " if days > 1 else "1 day late: "


def _is_crew_out(task: Task) -> bool:
    """A crew is booked for this time, or was when the work was done."""
    return bool(task.crew_id) and task.is_booked and task.status != Task.Status.WITHDRAWN


def text_of(task: Task, now: datetime) -> CalendarText:
    system = task.system
    before = PREFIXES.get(task.status, "") or lateness(days_late(task, now))
    return CalendarText(
        summary=f"{before}{task.title}, {system.tag}",
        description=_description(task),
        url=settings.PUBLIC_URL + reverse("scheduling:task", args=[task.pk]),
        categories=(task.work.label, label(System.Kind, system.kind)),
        priority=_priority(task),
        has_alarm=task.is_open,
    )


def _description(task: Task) -> str:
    parts = [task.why]
    if task.is_open and task.system.is_incomplete:
        parts.append(task.system.incomplete_words)
    if task.is_open:
        parts.append(f"In time until {task.due_on:%-d %B %Y}. {_who(task)}")
        parts.append(protection_line(task))
        parts.append(f"{task.work.caution} {WHO_DECIDES}".strip())
    elif task.closing_note:
        parts.append(task.closing_note)
    return "\n\n".join(parts)


def _priority(task: Task) -> int:
    rule = rule_of(task.rule)
    return rule.priority if rule else USUAL_PRIORITY


def _who(task: Task) -> str:
    crew = f", {task.crew}" if task.crew else ""
    return f"For: {task.assigned_to}{crew}. {label(WorkState, task.work_state)}."


@in_english()
def entry_of(task: Task, now: datetime) -> CalendarEntry:
    return CalendarEntry(
        task.calendar_uid,
        task.sequence,
        task.raised_at,
        task.modified_at,
        slot_of(task, now),
        text_of(task, now),
    )


@in_english()
def stamp(task: Task, now: datetime) -> bool:
    return advance(task, slot_of(task, now), text_of(task, now), now)


def publish(tasks: Iterable[Task], now: datetime) -> int:
    """Store a new revision of each task whose place, tag or protection changed meanwhile.

    Conditional on the revision that was read, so two readers at once raise SEQUENCE once.
    """
    changed = 0
    for task in tasks:
        before = {"slot_digest": task.slot_digest, "text_digest": task.text_digest}
        if not stamp(task, now):
            continue
        revision = {name: getattr(task, name) for name in SHOWN}
        if Task.objects.filter(pk=task.pk, **before).update(**revision):
            changed += 1
        else:
            task.refresh_from_db(fields=SHOWN)
    return changed
