"""How long a sweep takes over a large book, in how much memory, with one worker and with two.

Run `python -m tests.benchmarks.sweep [--systems 100000] [--moved 500]`, with DATABASE_URL naming an
empty scratch database for PostgreSQL; without it an SQLite file is made and thrown away. A quiet
sweep finds nothing to do; the other finds `--moved` systems with an event that nobody followed up.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import islice

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
CHUNK = 2_000
SITES, TASKS_PER_SYSTEM = 200, 5
"""One system in five has an open follow-up that the sweep compares with its calendar entry."""


def set_up() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    os.environ.setdefault("LOG_LEVEL", "ERROR")
    import django

    django.setup()


def fill(systems: int) -> None:
    """A book as after a large import: aerated since installation, never visited."""
    from django.core.management import call_command

    from registry.models import System
    from tests.factories import make_organisation, make_site, make_user

    call_command("migrate", verbosity=0)
    if System.objects.exists():
        sys.exit("This book is not empty; name a scratch database.")
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


def move(count: int, offset: int) -> None:
    """Events on systems without work, that no rule was told of."""
    from registry.models import System
    from registry.signals import record_added
    from scheduling.receivers import follow_up
    from tests.factories import make_record

    record_added.disconnect(dispatch_uid="follow_up_record")
    idle = System.objects.filter(tasks=None).order_by("pk")[offset : offset + count]
    for system in idle:
        make_record(system, "event.head_break", NOW - timedelta(days=1), now=NOW, count=1)
    record_added.connect(follow_up, dispatch_uid="follow_up_record")


def part(number: int, parts: int) -> dict:
    from scheduling.sweeping import Share, sweep

    started = time.monotonic()
    report = sweep(NOW, Share(number, parts))
    return {
        "seconds": round(time.monotonic() - started, 1),
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
        "report": str(report),
    }


def workers(count: int) -> list[dict]:
    """Each in a process of its own, all at once."""
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.sweep", "--part", f"{number}/{count}"],
            stdout=subprocess.PIPE, text=True,
        )
        for number in range(count)
    ]  # fmt: skip
    return [json.loads(process.communicate()[0]) for process in running]


def say(what: str, count: int) -> None:
    for found in workers(count):
        print(f"{what}, {count} worker(s): {found['seconds']} s, {found['peak_mb']} MB, "
              f"{found['report']}", flush=True)  # fmt: skip


def measure(systems: int, moved: int) -> None:
    fill(systems)
    say("first sweep, which dates every calendar entry", 1)
    for count in (1, 2):
        say("quiet sweep", count)
    for count in (1, 2):
        move(moved, offset=0)
        say(f"sweep with {moved} systems to follow up", count)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--systems", type=int, default=100_000)
    parser.add_argument("--moved", type=int, default=500)
    parser.add_argument("--part", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.part:
        set_up()
        print(json.dumps(part(*map(int, options.part.split("/")))))
        return
    with tempfile.TemporaryDirectory() as folder:
        os.environ["RISERBOOK_VAR_DIR"] = folder
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/bench.sqlite3")
        set_up()
        measure(options.systems, options.moved)


if __name__ == "__main__":
    main()
