"""The trail of a follow-up: what is noted when it changes, and how it is told again in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from registry.models import User
from registry.words.spoken import written
from scheduling.models import Task, TaskEvent, WorkState

NAMES = {
    "state": "state",
    "party": "with",
    "crew": "crew",
    "starts_at": "from",
    "ends_at": "to",
    "due_at": "due",
    "level": "level",
    "told": "told",
}
"""What a line may hold, and the word before it."""


def facts_of(task: Task, *names: str) -> dict[str, str]:
    """What a follow-up now is, by the names of a line, as plain text that never goes stale."""
    known: dict[str, Any] = {
        "state": task.work_state,
        "party": str(task.assigned_to),
        "crew": str(task.crew) if task.crew else "",
        "starts_at": task.starts_at.isoformat() if task.starts_at else "",
        "ends_at": task.ends_at.isoformat() if task.ends_at else "",
        "due_at": task.due_at.isoformat() if task.due_at else "",
    }
    return {name: known[name] for name in names}


def note(
    task: Task,
    what: str,
    at: datetime,
    *,
    by: User | None = None,
    was: Mapping[str, Any] | None = None,
    became: Mapping[str, Any] | None = None,
    reason: str = "",
) -> TaskEvent:
    """Add a line, with what differs and nothing else."""
    old, new = dict(was or {}), dict(became or {})
    changed = [name for name in new if old.get(name) != new[name]]
    return TaskEvent.objects.create(
        task=task,
        what=what,
        at=at,
        by=by,
        was={name: old[name] for name in changed if old.get(name)},
        became={name: new[name] for name in changed},
        reason=reason,
    )


def note_change(
    task: Task, what: str, at: datetime, before: Mapping[str, str], name: str, *, reason: str
) -> None:
    """Add a line where this one fact is no longer what it was."""
    now = facts_of(task, name)
    if now[name] != before[name]:
        note(task, what, at, was={name: before[name]}, became=now, reason=reason)


@dataclass(frozen=True)
class TrailLine:
    """One line of the trail as the page tells it."""

    event: TaskEvent
    changes: list[str]

    @property
    def who(self) -> str:
        return str(self.event.by) if self.event.by else gettext("by itself")


def trail_of(task: Task) -> list[TrailLine]:
    """Oldest first, times in the site's zone."""
    events = task.trail.select_related("by")
    return [TrailLine(event, _changes(event, task)) for event in events]


def _changes(event: TaskEvent, task: Task) -> list[str]:
    said = []
    for name, value in event.became.items():
        was, new = (_said(name, each, task) for each in (event.was.get(name, ""), value))
        word = NAMES.get(name, name)
        if was and new:
            said.append(f"{word} {was} → {new}")
        else:
            said.append(
                f"{word} {new}" if new else gettext("no longer {what}").format(what=f"{word} {was}")
            )
    return said


def _said(name: str, value: Any, task: Task) -> str:
    if not value:
        return ""
    if name.endswith("_at"):
        local = datetime.fromisoformat(value).astimezone(task.zone)
        return written(local, "%-d %B %Y, %H:%M")
    if name == "state":
        return WorkState(value).label.lower()
    return str(value)
