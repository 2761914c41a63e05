"""Who is told of what: each cause of a message, and the rows it writes in its own transaction."""

import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db.models import F, Q, QuerySet

from registry.models import Membership, Organisation, Record, System, User
from scheduling.messages.outbox import GATHERING, write
from scheduling.models import Message, Notice, Task, WebhookEndpoint

Kind = Message.Kind
DOES_WORK = (Membership.Role.MANAGER, Membership.Role.RECORDER)


def note_task(task: Task, now: datetime) -> None:
    """Tell of a follow-up that has come to somebody, or is over. Twice is the same as once."""
    holder = task.assigned_to_id if task.is_open else None
    notice, _ = Notice.objects.get_or_create(task=task)
    if notice.organisation_id == holder or not _turn(notice, holder):
        return
    if holder:
        _tell_of_assignment(task, f"{task.uuid}/{notice.turn + 1}", now)
    else:
        _post(Kind.TASK_CLOSED, f"{task.uuid}/{notice.turn + 1}", task.system, _task(task), now)


def _turn(notice: Notice, holder: int | None) -> bool:
    """Of two who see the same change one tells of it."""
    seen = Notice.objects.filter(
        pk=notice.pk, organisation=notice.organisation_id, turn=notice.turn
    )
    return bool(seen.update(organisation=holder, turn=F("turn") + 1))


def _tell_of_assignment(task: Task, cause_key: str, now: datetime) -> None:
    write(
        kind=Kind.ASSIGNMENT,
        cause_key=cause_key,
        people=_told_of(task),
        task=task,
        now=now,
        wait=GATHERING,
    )
    _post(Kind.TASK_ASSIGNED, cause_key, task.system, _task(task), now)


def _told_of(task: Task) -> QuerySet[User]:
    """Whoever has it; of protection that is out, the owner's people as well."""
    holders = [task.assigned_to]
    if task.work.is_about_protection:
        holders.append(task.system.site.owner)
    return workers_of(*holders)


def note_late(task: Task, people: Iterable[User], step: str, now: datetime) -> None:
    """Report a late follow-up to these people; `step` tells one escalation from the next."""
    cause_key = f"{task.uuid}/{step}"
    write(kind=Kind.ESCALATION, cause_key=cause_key, people=people, task=task, now=now)
    _post(Kind.TASK_LATE, cause_key, task.system, _task(task), now)


def note_record(record: Record, now: datetime) -> None:
    entry = {
        "record": {
            "uuid": str(record.uuid),
            "kind": record.kind,
            "occurred_at": record.occurred_at.isoformat(),
            "sequence": record.sequence,
            "hash": record.hash,
            "url": settings.PUBLIC_URL + record.get_absolute_url(),
        }
    }
    _post(Kind.RECORD_ADDED, str(record.uuid), record.system, entry, now)


def workers_of(*organisations: Organisation) -> QuerySet[User]:
    """Those who can do something about it; whether they may see the system is asked when the
    mail is written."""
    members = Membership.objects.filter(
        organisation__in=organisations, role__in=DOES_WORK, user__is_active=True
    )
    return User.objects.filter(pk__in=members.values("user"))


def untold() -> QuerySet[Task]:
    """Follow-ups whose last change told nobody, whatever wrote it."""
    is_open = Q(status=Task.Status.OPEN)
    as_told = Q(notice__organisation=F("assigned_to"))
    return Task.objects.filter((is_open & ~as_told) | (~is_open & _told_as_open()))


def _told_as_open() -> Q:
    return Q(notice__organisation__isnull=False)


def _post(kind: str, cause_key: str, system: System, entry: dict[str, Any], now: datetime) -> None:
    endpoints = WebhookEndpoint.objects.wanting(kind, system.site.owner_id)
    if endpoints:
        body = body_of(kind, now, {"system": _system(system), **entry})
        write(kind=kind, cause_key=cause_key, endpoints=endpoints, body=body, now=now)


def body_of(kind: str, now: datetime, entry: dict[str, Any]) -> str:
    return json.dumps({"kind": kind, "at": now.isoformat(), **entry}, ensure_ascii=False)


def _system(system: System) -> dict[str, str]:
    return {
        "uuid": str(system.uuid),
        "tag": system.tag,
        "site": system.site.name,
        "url": settings.PUBLIC_URL + system.get_absolute_url(),
    }


def _task(task: Task) -> dict[str, Any]:
    return {
        "follow_up": {
            "uuid": str(task.uuid),
            "kind": task.kind,
            "title": task.title,
            "assigned_to": str(task.assigned_to),
            "due_at": task.due_at.isoformat(),
            "status": task.status,
            "url": settings.PUBLIC_URL + task.get_absolute_url(),
        }
    }
