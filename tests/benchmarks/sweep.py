"""How long a sweep takes over a large book, in how much memory, with one worker and with two.

Run `python -m tests.benchmarks --part sweep [--size N]`. A quiet sweep finds nothing to do; the
other finds systems with an event that nobody followed up.
"""

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from typing import Any

from tests.benchmarks.scratch import NOW, ROOT, peak_mb, scratch_book, step
from tests.benchmarks.tables import Table

MOVED = 500
CHUNK = 2_000
SITES, TASKS_PER_SYSTEM = 200, 5
"""One system in five has an open follow-up that the sweep compares with its calendar entry."""


def fill(systems: int) -> None:
    """A book as after a large import: aerated since installation, never visited."""
    from registry.models import System
    from tests.factories import make_organisation, make_site, make_user

    owner, contractor = make_organisation("owner"), make_organisation("contractor")
    make_user(owner, "manager")
    make_user(contractor, "recorder")
    sites = [make_site(owner, contractor) for _ in range(SITES)]
    rows = (
        System(
            site=sites[number % SITES], tag=f"S-{number:06d}", kind="wet",
            installed_on=date(2005, 3, 1),
        )
        for number in range(systems)
    )  # fmt: skip
    _store(System, rows)
    _aerate(systems)
    _give_work()


def _store(model, rows: Iterator) -> None:
    while chunk := list(islice(rows, CHUNK)):
        model.objects.bulk_create(chunk)


def _aerate(systems: int) -> None:
    from registry.models import AtmosphereSpan, System

    since = datetime(2005, 3, 1, tzinfo=UTC)
    rows = (
        AtmosphereSpan(
            system_id=pk, starts_at=since, state_since=since, state="aerated",
            reason_code="never_inerted", reason="Never inerted.",
            oxygen_low=0.2095, oxygen_mid=0.2095, oxygen_high=0.2095,
        )
        for pk in System.objects.values_list("pk", flat=True)
    )  # fmt: skip
    _store(AtmosphereSpan, rows)


def _give_work() -> None:
    from registry.models import Organisation, System
    from scheduling.models import Notice, Task

    contractor = Organisation.objects.get(kind="contractor")
    keys = System.objects.order_by("pk").values_list("pk", flat=True)[::TASKS_PER_SYSTEM]
    rows = (
        Task(
            system_id=pk, rule="bench", kind="reinerting_order", cause_key="bench",
            title="Re-inerting order", why="Benchmark.", assigned_to=contractor,
            starts_at=NOW, ends_at=NOW + timedelta(hours=4), due_at=NOW + timedelta(days=30),
            time_zone="Europe/London", raised_at=NOW, modified_at=NOW,
        )
        for pk in keys
    )  # fmt: skip
    _store(Task, rows)
    told = Task.objects.values_list("pk", flat=True)
    _store(Notice, (Notice(task_id=pk, organisation=contractor) for pk in told))


def move(count: int) -> None:
    """Events on systems without work, that no rule was told of."""
    from registry.models import System
    from registry.signals import record_added
    from scheduling.receivers import follow_up
    from tests.factories import make_record

    record_added.disconnect(dispatch_uid="follow_up_record")
    idle = System.objects.filter(tasks=None).order_by("pk")[:count]
    for system in idle:
        make_record(system, "event.head_break", NOW - timedelta(days=1), now=NOW, count=1)
    record_added.connect(follow_up, dispatch_uid="follow_up_record")


def part(number: int, parts: int) -> dict[str, Any]:
    from scheduling.jobs.sweep import Share, sweep

    started = time.monotonic()
    report = sweep(NOW, Share(number, parts))
    return {
        "seconds": time.monotonic() - started,
        "peak_mb": peak_mb(),
        "report": str(report),
    }


@dataclass(frozen=True)
class Sweep:
    """One sweep by so many workers at once: the time of the slowest, the memory of the largest."""

    what: str
    systems: int
    workers: int
    seconds: float
    peak_mb: float
    reports: list[str]


def measure(systems: int, moved: int = MOVED) -> list[Sweep]:
    with scratch_book() as environment:
        step("sweep", "fill", systems, environment=environment)

        def swept(what: str, workers: int) -> Sweep:
            found = _at_once(workers, environment)
            return Sweep(
                what=what,
                systems=systems,
                workers=workers,
                seconds=max(one["seconds"] for one in found),
                peak_mb=max(one["peak_mb"] for one in found),
                reports=[one["report"] for one in found],
            )

        done = [swept("first, which dates every calendar entry", 1)]
        done += [swept("quiet", workers) for workers in (1, 2)]
        for workers in (1, 2):
            step("sweep", "move", moved, environment=environment)
            done.append(swept(f"{moved} systems to follow up", workers))
        return done


def _at_once(workers: int, environment: dict[str, str]) -> list[dict[str, Any]]:
    """Each in a process of its own; none is left behind when one of them fails."""
    shares = [f"{number}/{workers}" for number in range(workers)]
    command = [sys.executable, "-m", "tests.benchmarks.sweep", "part"]
    running = [
        subprocess.Popen([*command, share], cwd=ROOT, env=environment, stdout=subprocess.PIPE)
        for share in shares
    ]
    try:
        found = [json.loads(process.communicate()[0] or "null") for process in running]
    finally:
        for process in running:
            process.kill()
            process.wait()
    if None in found:
        raise RuntimeError("a worker of the sweep failed; what it said stands above")
    return found


def table(found: list[Sweep]) -> Table:
    return Table(
        f"A sweep over {found[0].systems:,} systems",
        ("sweep", "workers", "seconds", "times one worker", "peak MB each"),
        [
            (
                one.what,
                str(one.workers),
                f"{one.seconds:.1f}",
                f"{one.seconds / _alone(one, found):.2f}",
                f"{one.peak_mb:.0f}",
            )
            for one in found
        ],
    )


def _alone(one: Sweep, found: list[Sweep]) -> float:
    return next(other.seconds for other in found if other.what == one.what)


def main(what: str, how_many: str) -> None:
    import django

    django.setup()
    if what == "fill":
        fill(int(how_many))
    elif what == "move":
        move(int(how_many))
    else:
        print(json.dumps(part(*map(int, how_many.split("/")))))


if __name__ == "__main__":
    main(*sys.argv[1:])
