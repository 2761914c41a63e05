"""A job in a process of its own: what it takes of memory or time, or how it dies, is not the
worker's end. The worker keeps the row alive meanwhile and settles what the job could not."""

import logging
import os
import resource
import signal
import threading
import time
from pathlib import Path

from django.db import DatabaseError, InterfaceError, connections
from django.utils.translation import gettext as _

from registry.jobs import claims
from registry.jobs.kinds import KINDS, Kind
from registry.jobs.run import Clock, Run
from registry.models import Job

log = logging.getLogger(__name__)

SAID_EVERY_S = 10.0
NOT_SETTLED = 75  # the database was away when the job ended
ORPHAN_LOOKS_S = 0.2


def run_here(job: Job, clock: Clock) -> None:
    """The work and its settlement. What an error quotes goes to the log alone: the page is read by
    every owner, and an error of the database quotes rows of any."""
    run = Run(job, clock)
    try:
        KINDS[job.kind].work(run)
    except MemoryError:
        log.exception("jobs.memory job=%s", job)
        claims.fail(job, too_large(KINDS[job.kind]), clock())
    except Exception as error:
        log.exception("jobs.error job=%s", job)
        words = _("%(error)s; the log says more.") % {"error": type(error).__name__}
        claims.fail(job, words, clock())
    else:
        log.info("jobs.done job=%s: %s", job, run.outcome)
        claims.end(job, run.outcome, clock())


def too_large(kind: Kind) -> str:
    return _("It needed more than %(mb)s MB of memory.") % {"mb": kind.memory_mb}


class Child:
    """One running job, as the worker sees it. Times are of the steady clock: a wall clock that
    jumps neither kills a job nor lets it run on."""

    def __init__(self, job: Job, clock: Clock):
        self.job, self.clock = job, clock
        self.kind = KINDS[job.kind]
        self.began = self.said = time.monotonic()
        self.was_late = False
        self.status: int | None = None
        connections.close_all()  # two processes cannot share a connection
        self.pid = os.fork()
        if self.pid == 0:
            _work(job, clock, self.kind)

    def look(self) -> bool:
        """Whether it is over and settled."""
        now = time.monotonic()
        if self.status is None and self._waits():
            if now - self.began > self.kind.time_limit.total_seconds():
                self.was_late = True
                os.kill(self.pid, signal.SIGKILL)
            elif now - self.said > SAID_EVERY_S:
                self.said = now
                if not claims.keep(self.job, self.clock()):
                    log.warning("jobs.claim_lost job=%s: another worker has it", self.job)
                    os.kill(self.pid, signal.SIGKILL)
            return False
        self._settle()
        return True

    def stop(self) -> None:
        """The worker stops: the job goes back, for the next."""
        if self.status is None:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            claims.put_back(self.job, self.clock())

    def _waits(self) -> bool:
        pid, status = os.waitpid(self.pid, os.WNOHANG)
        if pid:
            self.status = os.waitstatus_to_exitcode(status)
        return not pid

    def _settle(self) -> None:
        """Raises while the database is away, and is asked again."""
        if self.status != 0:
            claims.fail(self.job, self._words(), self.clock())

    def _words(self) -> str:
        assert self.status is not None
        if self.was_late:
            minutes = self.kind.time_limit.total_seconds() / 60
            return _("It took longer than %(minutes)g minutes.") % {"minutes": minutes}
        if self.status < 0:
            name = signal.Signals(-self.status).name
            return _("It was killed (%(signal)s), as when memory runs out.") % {"signal": name}
        return _("It ended without a word (status %(status)s).") % {"status": self.status}


def _work(job: Job, clock: Clock, kind: Kind) -> None:
    """In the child; never returns."""
    status = 1
    try:
        for each in (signal.SIGTERM, signal.SIGINT):
            signal.signal(each, signal.SIG_DFL)
        _end_with_parent(os.getppid())
        _limit_memory(kind.memory_mb)
        run_here(job, clock)
        status = 0
    except (DatabaseError, InterfaceError):
        log.exception("jobs.unsettled job=%s", job)
        status = NOT_SETTLED
    except BaseException:
        log.exception("jobs.fault job=%s", job)
    finally:
        os._exit(status)


def _end_with_parent(parent: int) -> None:
    """A worker that was killed must not leave a job behind that nobody watches."""

    def look() -> None:
        while os.getppid() == parent:
            time.sleep(ORPHAN_LOOKS_S)
        os._exit(1)

    threading.Thread(target=look, daemon=True).start()


def _limit_memory(megabytes: int) -> None:
    """Address space beside what is mapped already, where the system can tell how much that is."""
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        most = pages * resource.getpagesize() + megabytes * 1024 * 1024
        resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))
    except (OSError, ValueError):
        log.info("jobs.no_memory_limit: this system sets none")
