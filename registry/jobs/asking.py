"""Asking for work: a row in the transaction of its cause, and a word to the engine after it."""

import logging
from datetime import datetime
from typing import Any
from uuid import uuid4

from celery import current_app
from django.conf import settings
from django.db import transaction
from django.utils import timezone
from kombu.exceptions import OperationalError

from registry.jobs.kinds import recurring
from registry.models import Job, Organisation

log = logging.getLogger(__name__)

WAKE = "registry.jobs.wake"


def ask(
    kind: str,
    *,
    arguments: dict[str, Any] | None = None,
    key: str | None = None,
    owner: Organisation | None = None,
    now: datetime | None = None,
) -> None:
    """One job that waits is enough for a kind and key; without a key each is another one."""
    now = now or timezone.now()
    row = Job(
        kind=kind, key=uuid4().hex if key is None else key, arguments=arguments or {},
        owner=owner, asked_at=now, run_after=now,
    )  # fmt: skip
    Job.objects.bulk_create([row], ignore_conflicts=True)
    transaction.on_commit(wake)


def wake() -> None:
    """Where Redis is away the next look of a worker finds the row; nobody waits for it here."""
    if not settings.REDIS_URL:
        return
    try:
        current_app.send_task(WAKE, retry=False)
    except (OperationalError, OSError) as error:
        log.warning("jobs.not_woken %s", error)


def plan_recurring(now: datetime) -> None:
    """Each recurring job has its next run as a row that waits. One that waits for longer than its
    interval was written by a clock that ran ahead, and is brought back."""
    codes = [kind.code for kind in recurring()]
    rows = Job.objects.filter(kind__in=codes, key="")
    waiting = dict(rows.filter(state=Job.State.WAITING).values_list("kind", "run_after"))
    for kind in recurring():
        assert kind.every is not None
        next_at = kind.every.after(now)
        if kind.code not in waiting:
            first_at = next_at if rows.filter(kind=kind.code).exists() else now
            row = Job(kind=kind.code, asked_at=now, run_after=first_at)
            Job.objects.bulk_create([row], ignore_conflicts=True)
        elif waiting[kind.code] > next_at:
            rows.filter(kind=kind.code, state=Job.State.WAITING, run_after__gt=next_at).update(
                run_after=next_at
            )
