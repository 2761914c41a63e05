"""The project's worker with jobs that recur every second, so that no test waits minutes; for Celery
(`celery -A tests.faults.quick`), and by itself the embedded one. The file `clock` beside the book,
where there is one, says by how many seconds the clock of this worker is wrong."""

import os
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import django
from django.utils import timezone

from config import celery
from config.celery import app

__all__ = ["app"]

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
SECOND = timedelta(seconds=1)
CLOCK = Path(os.environ["RISERBOOK_VAR_DIR"]) / "clock"
OFTEN = ("scheduling.sweep", "scheduling.messages")


def clock() -> datetime:
    wrong_by = int(CLOCK.read_text() or 0) if CLOCK.exists() else 0
    return timezone.now() + timedelta(seconds=wrong_by)


def hurry() -> None:
    """Only what the tests are about, often; and a job of their own that kills its process."""
    from registry.jobs import asking, claims, kinds, worker

    for code in OFTEN:
        kinds.KINDS[code] = replace(kinds.KINDS[code], every=kinds.Every(SECOND))
    for code in set(kinds.KINDS) - set(OFTEN):
        kinds.KINDS[code] = replace(kinds.KINDS[code], every=None)
    kinds.job("test.deadly", "Deadly", time_limit=SECOND, memory_mb=200)(_die)
    asking.wake = lambda: None
    claims.PAUSES = (SECOND / 5, SECOND / 5)
    worker.SIGNS_EVERY_S = 1.0


def _die(run) -> None:
    deeds = {"memory": _fill_memory, "time": _never_end, "kill": _kill_itself}
    deeds[run.arguments["how"]]()


def _fill_memory() -> None:
    held = []
    while True:
        held.append(bytearray(10_000_000))


def _never_end() -> None:
    while True:
        pass


def _kill_itself() -> None:
    os.kill(os.getpid(), 9)


django.setup()
celery.TICK_S = 1.0
hurry()

if __name__ == "__main__":
    from registry.jobs.worker import work_until_stopped

    work_until_stopped(clock=clock)
