"""How fast a whole book is assessed: rows read, calculated and stored, as the nightly run does it.

Run `python -m tests.benchmarks --part database [--size N ...]`. Each size in a book of its own: all
assessed for the first time; the next day again, each row refreshed; once more with nothing to do.
The floor is the database's own share: the same rows read as plain tuples and the results written.
"""

import json
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import timedelta
from typing import Any

from tests.benchmarks.scratch import NOW, peak_mb, scratch_book, step
from tests.benchmarks.tables import Table

DAY = timedelta(days=1)
SPAN = ("system_id", "starts_at", "state", "oxygen_mid", "cause_id")


@dataclass(frozen=True)
class Timing:
    """Seconds of each pass over the whole book, and the most memory the process ever held."""

    systems: int
    first: float
    refreshed: float
    unchanged: float
    floor: float
    peak_mb: float


def measure(systems: int) -> Timing:
    with scratch_book() as environment:
        step("scratch", systems, environment=environment)
        return Timing(**step("assess_database", environment=environment))


def assess_book() -> Timing:
    """Inside the scratch book: the three passes, then memory, then the floor."""
    from registry.models import System
    from registry.services.assessments import Which, assess_systems

    systems, counts = System.objects.all(), System.objects.count()

    def run(day: int, which: Which) -> float:
        return seconds(lambda: assess_systems(systems, NOW + day * DAY, which=which))

    first, refreshed = run(0, Which.DUE), run(1, Which.DUE)
    unchanged = run(1, Which.CHANGED)
    held_mb = peak_mb()
    return Timing(counts, first, refreshed, unchanged, seconds(plain_rows), held_mb)


def plain_rows(chunk: int = 200) -> None:
    """The rows an assessment needs read as tuples, and assessments written, chunk by chunk."""
    from django.db import transaction

    from registry.models import Assessment, AtmosphereSpan, PipeRun, Record, System

    keys = list(System.objects.order_by("pk").values_list("pk", flat=True))
    for begin in range(0, len(keys), chunk):
        part = keys[begin : begin + chunk]
        with transaction.atomic():
            list(System.objects.filter(pk__in=part).values_list())
            list(Record.objects.filter(system__in=part).values_list())
            list(PipeRun.objects.filter(system__in=part).values_list())
            list(AtmosphereSpan.objects.filter(system__in=part).values_list(*SPAN))
            rows = list(Assessment.objects.filter(system__in=part))
            for row in rows:
                row.pk, row.is_latest = None, False
            Assessment.objects.bulk_create(rows)


def seconds(work: Callable[[], Any]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def table(timings: list[Timing]) -> Table:
    return Table(
        "(b) A whole book from the database, assessed and stored",
        ("systems", "first, ms a system", "refreshed", "unchanged", "bare database work",
         "refreshed / bare", "peak MB"),
        [
            (
                f"{one.systems:,}",
                *(f"{1000 * took / one.systems:.3f}" for took in _passes(one)),
                f"{one.refreshed / one.floor:.2f}",
                f"{one.peak_mb:.0f}",
            )
            for one in timings
        ],
        "Bare database work: the rows that an assessment needs read as tuples, and as many results "
        "written, with nothing in between.",
    )  # fmt: skip


def _passes(one: Timing) -> tuple[float, ...]:
    return one.first, one.refreshed, one.unchanged, one.floor


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(asdict(assess_book())))
