"""Claiming, keeping and settling jobs. Every step is a conditional UPDATE: of two workers one wins,
and a worker that was taken for dead changes nothing when it wakes again."""

import logging
import os
import socket
from datetime import datetime, timedelta
from uuid import uuid4

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from registry.jobs.kinds import KINDS, Kind
from registry.models import Job, WorkerSign
from registry.models.jobs import SILENT_FOR
from registry.signals import job_given_up

log = logging.getLogger(__name__)

PAUSES = (timedelta(seconds=10), timedelta(minutes=2))
"""After each attempt that ended badly."""
LENGTH = 300
KEPT_FOR = timedelta(days=30)
State = Job.State


def this_worker() -> str:
    return f"{socket.gethostname()[:60]}:{os.getpid()}"


def claim(now: datetime, worker: str) -> Job | None:
    """The next job, held for this worker; None when nothing is due."""
    for job in Job.objects.due(now).filter(kind__in=KINDS)[:20]:
        kind = KINDS[job.kind]
        if _is_idle(job, kind, now):
            continue
        if job.attempts >= kind.attempts:
            # Nobody told how the last attempt ended, so its worker died with it.
            give_up(job, _("Each worker that tried this died with it."), now)
        elif _take(job, worker, now):
            return job
    return None


def _is_idle(job: Job, kind: Kind, now: datetime) -> bool:
    """Nothing to do this time: the row waits for the next."""
    if not kind.every or job.state != State.WAITING or not kind.is_idle(now):
        return False
    waiting = Job.objects.filter(pk=job.pk, state=State.WAITING, run_after=job.run_after)
    waiting.update(run_after=kind.every.after(now))
    return True


def _take(job: Job, worker: str, now: datetime) -> bool:
    """As it was seen, or not at all."""
    as_seen = Job.objects.filter(pk=job.pk, state=job.state, claim=job.claim)
    taken = {
        "state": State.RUNNING, "claim": uuid4(), "worker": worker, "started_at": now,
        "heartbeat_at": now, "attempts": job.attempts + 1, "done": 0,
    }  # fmt: skip
    try:
        with transaction.atomic():
            is_ours = bool(as_seen.update(**taken))
    except IntegrityError:  # another of the kind and key has begun between the look and this
        return False
    for name, value in taken.items():
        setattr(job, name, value)
    return is_ours


def keep(job: Job, now: datetime) -> bool:
    """Say that it lives; False when another worker has taken it over."""
    return bool(Job.objects.of_claim(job).update(heartbeat_at=now))


def end(job: Job, outcome: str, now: datetime) -> None:
    Job.objects.of_claim(job).update(
        state=State.DONE, claim=None, ended_at=now, heartbeat_at=now, done=job.done,
        outcome=outcome[:LENGTH], error="",
    )  # fmt: skip


def fail(job: Job, words: str, now: datetime) -> None:
    """One attempt ended badly: a pause, and after the last attempt no more."""
    if job.attempts >= KINDS[job.kind].attempts:
        return give_up(job, words, now)
    pause = PAUSES[min(job.attempts, len(PAUSES)) - 1]
    log.warning("jobs.failed job=%s attempt=%s: %s", job, job.attempts, words)
    Job.objects.of_claim(job).update(
        state=State.PAUSED, claim=None, run_after=now + pause, error=words[:LENGTH]
    )
    return None


def put_back(job: Job, now: datetime) -> None:
    """The worker stops in good order: no attempt is counted."""
    Job.objects.of_claim(job).update(
        state=State.PAUSED, claim=None, run_after=now, attempts=job.attempts - 1
    )


@transaction.atomic
def give_up(job: Job, words: str, now: datetime) -> None:
    """For good, and said: on the page, in the log, and to those who keep the book."""
    held = Job.objects.filter(pk=job.pk, state__in=Job.HELD, claim=job.claim)
    if not held.update(
        state=State.GIVEN_UP, claim=None, ended_at=now, done=job.done, error=words[:LENGTH]
    ):
        return
    log.error("jobs.given_up job=%s attempts=%s: %s", job, job.attempts, words)
    try:
        with transaction.atomic():
            KINDS[job.kind].given_up(job, words)
    except Exception:
        log.exception("jobs.end_untold job=%s", job)
    job_given_up.send(sender=Job, job=job, words=words, now=now)


def sign(worker: str, started_at: datetime, now: datetime) -> None:
    """That a worker lives; and what a dead process of this machine held is given free at once."""
    WorkerSign.objects.update_or_create(
        name=worker, defaults={"started_at": started_at, "seen_at": now}
    )
    host = worker.rpartition(":")[0]
    for job in Job.objects.filter(state=State.RUNNING, worker__startswith=f"{host}:"):
        if not _lives(job.worker):
            long_ago = now - 2 * SILENT_FOR
            Job.objects.of_claim(job).update(heartbeat_at=long_ago)


def _lives(worker: str) -> bool:
    try:
        os.kill(int(worker.rpartition(":")[2]), 0)
    except (ProcessLookupError, ValueError):
        return False
    except PermissionError:
        pass
    return True


def last_seen() -> datetime | None:
    latest = WorkerSign.objects.first()
    return latest.seen_at if latest else None


def forget_old(now: datetime) -> int:
    WorkerSign.objects.filter(seen_at__lt=now - KEPT_FOR).delete()
    return Job.objects.filter(ended_at__lt=now - KEPT_FOR).delete()[0]
