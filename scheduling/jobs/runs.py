"""Recurring jobs as rows: one run of a name at a time, seen to live, safe to lose."""

import logging
import os
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Q

from scheduling.models import JobRun, Lease
from scheduling.models.jobs import SILENT_FOR

log = logging.getLogger(__name__)

SAID_EVERY = timedelta(seconds=5)
KEPT_FOR = timedelta(days=30)
A_NIGHT, AGAIN_AFTER = timedelta(hours=25), timedelta(hours=1)
Clock = Callable[[], datetime]


def this_process() -> str:
    return f"{socket.gethostname()[:60]}:{os.getpid()}"


class RunningJob:
    """What a job holds while it works, to say how far it is."""

    def __init__(self, row: JobRun, clock: Clock):
        self.row, self.clock, self.outcome = row, clock, ""

    def advance(self, pieces: int = 1) -> None:
        """Counts always, writes every few seconds."""
        self.row.done += pieces
        now = self.clock()
        if abs(now - self.row.heartbeat_at) >= SAID_EVERY:
            self.row.heartbeat_at = now
            self._update(heartbeat_at=now)

    def end(self, state: str, outcome: str) -> None:
        now = self.clock()
        self._update(state=state, heartbeat_at=now, ended_at=now, outcome=outcome[:300])

    def _update(self, **values) -> None:
        """Nothing, when another worker took this one for dead and began anew."""
        still_ours = JobRun.objects.filter(pk=self.row.pk, state=JobRun.State.RUNNING)
        still_ours.update(done=self.row.done, **values)


@contextmanager
def running(name: str, clock: Clock) -> Iterator[RunningJob | None]:
    """Holds the job's name while the work lasts; None when another worker is at it."""
    row = begin(name, clock())
    if row is None:
        yield None
        return
    run = RunningJob(row, clock)
    try:
        yield run
    except Exception as error:
        # The page is read by every owner, and an error of the database quotes rows of any.
        log.exception("jobs.failed name=%s", name)
        run.end(JobRun.State.FAILED, f"{type(error).__name__}; the log says more")
        raise
    run.end(JobRun.State.DONE, run.outcome)


def begin(name: str, now: datetime) -> JobRun | None:
    """The constraint on the table lets one in; a silent run is first declared lost."""
    silent = Q(heartbeat_at__lt=now - SILENT_FOR) | Q(heartbeat_at__gt=now + SILENT_FOR)
    JobRun.objects.filter(silent, name=name, state=JobRun.State.RUNNING).update(
        state=JobRun.State.LOST, ended_at=now
    )
    try:
        with transaction.atomic():
            return JobRun.objects.create(
                name=name, worker=this_process(), started_at=now, heartbeat_at=now
            )
    except IntegrityError:
        return None


def is_missed(name: str, now: datetime) -> bool:
    """Whether a nightly job is to be asked for: its message was lost or its worker died, and
    nobody is at it. One that failed is left alone for an hour."""
    runs = JobRun.objects.filter(name=name)
    done = Q(state=JobRun.State.DONE, started_at__gt=now - A_NIGHT)
    failed = Q(state=JobRun.State.FAILED, ended_at__gt=now - AGAIN_AFTER)
    if runs.filter(done | failed).exists():
        return False
    return not any(run.is_running and not run.is_silent(now) for run in runs[:1])


def forget_old_runs(now: datetime) -> int:
    return JobRun.objects.filter(ended_at__lt=now - KEPT_FOR).delete()[0]


def hold(name: str, *, holder: str, now: datetime, length: timedelta) -> bool:
    """Take or keep a lease; False while somebody else has it. One that would last longer than any
    is given was taken by a clock that was wrong."""
    free = Q(holder=holder) | Q(until__lte=now) | Q(until__gt=now + 2 * length)
    until = now + length
    if Lease.objects.filter(free, name=name).update(holder=holder, until=until):
        return True
    Lease.objects.bulk_create([Lease(name=name, holder=holder, until=until)], ignore_conflicts=True)
    return Lease.objects.filter(name=name, holder=holder).exists()
