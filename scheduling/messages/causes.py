"""Who is told of what: each cause of a message, and the rows it writes in its own transaction."""

import json
from collections.abc import Iterable
from datetime import datetime
from hashlib import sha256
from typing import Any

from django.conf import settings
from django.db.models import F, Q, QuerySet

from registry.jobs.kinds import label_of
from registry.models import (
    Job,
    Membership,
    Organisation,
    OwnerVerdict,
    Record,
    RecordPackage,
    System,
    User,
    Verdict,
)
from registry.translation import in_english
from scheduling.messages.outbox import GATHERING, write
from scheduling.models import Message, Notice, ReportBatch, RuleFailure, Task, WebhookEndpoint

Kind = Message.Kind
NAMED = 20
RULE_KEY = "rule/"
REPORT_KEY = "report/"
DOES_WORK = (Membership.Role.MANAGER, Membership.Role.RECORDER)


@in_english()
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


@in_english()
def note_late(task: Task, people: Iterable[User], step: str, now: datetime) -> None:
    """Report a late follow-up to these people; `step` tells one escalation from the next."""
    cause_key = f"{task.uuid}/{step}"
    write(kind=Kind.ESCALATION, cause_key=cause_key, people=people, task=task, now=now)
    _post(Kind.TASK_LATE, cause_key, task.system, _task(task), now)


def drop_late(task: Task, step: str) -> None:
    """What still waits of a report that was made too early; what was sent cannot be unsaid."""
    kinds = (Kind.ESCALATION, Kind.TASK_LATE)
    waiting = Message.objects.filter(kind__in=kinds, cause_key=f"{task.uuid}/{step}")
    waiting.filter(state=Message.State.PENDING).update(state=Message.State.DROPPED)


@in_english()
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


@in_english()
def note_job(job: Job, words: str, now: datetime) -> None:
    """The managers of the owner that asked for it; of a job for the whole book those who keep it,
    and where nobody was named for that, every manager."""
    body = f"{label_of(job.kind)}: {words}"
    write(kind=Kind.JOB, cause_key=f"job/{job.pk}", people=keepers(job), body=body, now=now)


@in_english()
def note_verdict(verdict: OwnerVerdict, now: datetime) -> None:
    """The owner's managers and those who keep the book, once for each change of what differs."""
    differing = Verdict.objects.filter(system__site__owner=verdict.owner_id).against()
    differing = differing.select_related("system__site").order_by("pk")
    said = [*(f"{one.system}: {one.differences[0]}" for one in differing), *verdict.log_differences]
    body = "\n".join(said[:NAMED])
    digest = sha256("\n".join(said).encode()).hexdigest()[:16]
    key = f"verdict/{verdict.owner_id}/{verdict.failing_since:%Y%m%d%H%M%S}/{digest}"
    people = managers_and_keepers(verdict.owner_id)
    write(kind=Kind.VERDICT, cause_key=key, people=people, body=body, now=now)


@in_english()
def note_rule_failure(failure: RuleFailure, now: datetime) -> None:
    """The owner's managers and those who keep the book, once until the rule is applied again: the
    row goes then, and the next failure is another row."""
    people = managers_and_keepers(failure.system.site.owner_id)
    write(
        kind=Kind.RULE, cause_key=f"{RULE_KEY}{failure.pk}", people=people, body=str(failure),
        now=now, wait=GATHERING,
    )  # fmt: skip


def managers_and_keepers(owner_id: int) -> QuerySet[User]:
    managers = Membership.objects.filter(role=Membership.Role.MANAGER, organisation=owner_id)
    people = User.objects.filter(is_active=True)
    return people.filter(Q(pk__in=managers.values("user")) | Q(is_staff=True))


def note_package(package: RecordPackage, now: datetime) -> None:
    """Whoever asked for it may have left the page long ago."""
    link = settings.PUBLIC_URL + package.get_absolute_url()
    write(
        kind=Kind.PACKAGE, cause_key=f"package/{package.uuid}", people=[package.asked_by],
        body=link, now=now,
    )  # fmt: skip


def note_report(batch: ReportBatch, now: datetime) -> None:
    """Once for each batch, however often the job that makes it runs."""
    key = f"{REPORT_KEY}{batch.uuid}"
    write(kind=Kind.REPORT, cause_key=key, people=[batch.person], now=now)


def keepers(job: Job) -> QuerySet[User]:
    people = User.objects.filter(is_active=True)
    managers = Membership.objects.filter(
        role=Membership.Role.MANAGER, organisation__kind=Organisation.Kind.OWNER
    )
    if job.owner_id:
        managers = managers.filter(organisation=job.owner_id)
    elif people.filter(is_staff=True).exists():
        return people.filter(is_staff=True)
    return people.filter(pk__in=managers.values("user"))


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
