"""What each kind of job does, how long and how large it may grow, and when it comes again."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from django.utils.functional import Promise

if TYPE_CHECKING:
    from registry.jobs.run import Run
    from registry.models import Job

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Every:
    """Instants a length apart; `at` moves all of them, so that a daily job keeps its hour (UTC)."""

    length: timedelta
    at: timedelta = timedelta(0)

    def after(self, now: datetime) -> datetime:
        """The first of them later than now."""
        passed = (now - EPOCH - self.at) // self.length
        return EPOCH + self.at + (passed + 1) * self.length


def _never_idle(now: datetime) -> bool:
    return False


def _tell_nobody(job: "Job", words: str) -> None:
    pass


@dataclass(frozen=True)
class Kind:
    code: str
    label: str | Promise
    work: Callable[["Run"], None]
    every: Every | None = None
    time_limit: timedelta = 20 * MINUTE
    memory_mb: int = 2048
    """What it may take beside what the worker holds when it begins."""
    attempts: int = 3
    is_idle: Callable[[datetime], bool] = _never_idle
    """A quick look before a recurring run: with nothing to do, it leaves no row behind."""
    given_up: Callable[["Job", str], None] = _tell_nobody
    """Told after the last attempt, in words, what ended it."""


KINDS: dict[str, Kind] = {}


def job(code: str, label: str | Promise, **facts):
    """Declares the function to be the work of a kind; it is called with a `Run`."""

    def declare(work: Callable[["Run"], None]) -> Callable[["Run"], None]:
        KINDS[code] = Kind(code, label, work, **facts)
        return work

    return declare


def recurring() -> list[Kind]:
    return [kind for kind in KINDS.values() if kind.every]


def label_of(code: str) -> str:
    """Of a row whose kind may have gone with an earlier version."""
    return str(KINDS[code].label) if code in KINDS else code
