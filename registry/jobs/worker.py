"""The worker: looks for what is due, runs it, and goes on whatever happens to the database."""

import logging
import signal
import time
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connections
from django.utils import timezone

from registry.jobs import claims
from registry.jobs.asking import plan_recurring
from registry.jobs.process import Child
from registry.jobs.run import Clock
from registry.serving import in_use

log = logging.getLogger(__name__)

LOOKS_EVERY_S = 1.0
SIGNS_EVERY_S = 15.0
LONGEST_WAIT_S = 30.0
AT_ONCE = 2
"""So that mail does not wait for a long import."""


class Worker:
    def __init__(self, *, clock: Clock = timezone.now, at_once: int = AT_ONCE):
        self.clock, self.at_once = clock, at_once
        self.name, self.started_at = claims.this_worker(), clock()
        self.children: list[Child] = []
        self.signed = float("-inf")
        self.last_time: datetime | None = None
        self.is_stopping = False

    def work(self) -> None:
        """Until told to stop."""
        wait = LOOKS_EVERY_S
        while not self.is_stopping:
            try:
                is_busy = self.look()
                wait = 0.05 if is_busy else LOOKS_EVERY_S
            except (DatabaseError, InterfaceError) as error:
                connections.close_all()
                wait = min(LONGEST_WAIT_S, max(1.0, 2 * wait))
                log.warning("jobs.no_database: %s; again in %.0f s", str(error).strip(), wait)
            self._rest(wait)
        self._end()

    def work_off(self) -> None:
        """Until nothing is due: a worker of Celery that was woken."""
        while self.look():
            self._rest(0.05)

    def look(self) -> bool:
        """One round; whether anything runs."""
        self.children = [child for child in self.children if not child.look()]
        self._sign()
        while len(self.children) < self.at_once:
            job = claims.claim(self.clock(), self.name)
            if job is None:
                break
            self.children.append(Child(job, self.clock))
        return bool(self.children)

    def stop(self, *_args: Any) -> None:
        self.is_stopping = True

    def _sign(self) -> None:
        """Also when the clock has jumped: what waits for its time must be looked at anew."""
        now, steady = self.clock(), time.monotonic()
        if steady - self.signed < SIGNS_EVERY_S and not self._has_jumped(now):
            return
        self.last_time = now
        claims.sign(self.name, self.started_at, now)
        plan_recurring(now)
        self.signed = steady

    def _has_jumped(self, now: datetime) -> bool:
        return (
            self.last_time is None
            or abs((now - self.last_time).total_seconds()) > 2 * SIGNS_EVERY_S
        )

    def _rest(self, seconds: float) -> None:
        until = time.monotonic() + seconds
        while not self.is_stopping and (left := until - time.monotonic()) > 0:
            time.sleep(min(left, 0.2))

    def _end(self) -> None:
        for child in self.children:
            try:
                child.stop()
            except (DatabaseError, InterfaceError):
                log.warning("jobs.not_put_back job=%s: taken up as silent", child.job)


def work_until_stopped(**facts: Any) -> None:
    worker = Worker(**facts)
    for each in (signal.SIGTERM, signal.SIGINT):
        signal.signal(each, worker.stop)
    in_use.share(settings.VAR_DIR)
    log.info("jobs.worker %s", worker.name)
    worker.work()
