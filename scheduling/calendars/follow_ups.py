"""A follow-up as calendars see it, and the revision numbers that tell them what changed."""

from collections.abc import Iterable
from datetime import datetime

from django.conf import settings
from django.urls import reverse

from registry.models import System
from scheduling.calendars.ics import CalendarEntry, CalendarSlot, CalendarText
from scheduling.calendars.revisions import SHOWN, advance
from scheduling.follow_ups.protection_words import protection_line
from scheduling.models import Task
from scheduling.rules import rule_of
from scheduling.rules.cautions import WHO_DECIDES
from scheduling.rules.types import USUAL_PRIORITY

PREFIXES: dict[str, str] = {Task.Status.DONE: "Done: ", Task.Status.WITHDRAWN: "Withdrawn: "}


def location(system: System) -> str:
    lines = [system.building.name if system.building else "", system.site.name]
    lines += system.site.address.splitlines()
    return ", ".join(line.strip() for line in lines if line.strip())


def slot_of(task: Task) -> CalendarSlot:
    return CalendarSlot(
        task.starts_at,
        task.ends_at,
        task.time_zone,
        location(task.system),
        task.status == Task.Status.WITHDRAWN,
    )


def text_of(task: Task) -> CalendarText:
    system = task.system
    return CalendarText(
        summary=f"{PREFIXES.get(task.status, '')}{task.title}, {system.tag}",
        description=_description(task),
        url=settings.PUBLIC_URL + reverse("scheduling:task", args=[task.pk]),
        categories=(task.work.label, system.get_kind_display()),
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
    return f"For: {task.assigned_to}{crew}. {task.get_work_state_display()}."


def entry_of(task: Task) -> CalendarEntry:
    return CalendarEntry(
        task.calendar_uid,
        task.sequence,
        task.raised_at,
        task.modified_at,
        slot_of(task),
        text_of(task),
    )


def stamp(task: Task, now: datetime) -> bool:
    return advance(task, slot_of(task), text_of(task), now)


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
