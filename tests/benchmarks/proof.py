"""What being provable costs: a record with the log and without, records as CSV beside the own copy
of the database, a package of the whole book, and checking it.

Run `python -m tests.benchmarks --part proof [--size RECORDS]`. Seconds are of the processor, of the
process that does the work; of CSV beside the server's copy they are of the clock, since the server
works for both, and the ratio is the median of pairs.
"""

import csv
import json
import os
import statistics
import sys
import tempfile
import time
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from registry.proof import verify
from tests.benchmarks.scratch import (
    EVENTS_EACH,
    NOW,
    PIPES,
    fill,
    peak_mb,
    scratch_book,
    step,
)
from tests.benchmarks.tables import Table

EACH = 1 + len(PIPES) + EVENTS_EACH
ROUNDS, AT_ONCE, PAIRS = 15, 40, 3


@dataclass(frozen=True)
class Costs:
    records: int
    record_ms: float
    record_ratio: float
    csv_s: float
    csv_ratio: float
    csv_mb: float
    package_s: float
    package_mb: float
    verify_s: float
    verify_mb: float


def measure(records: int) -> Costs:
    with scratch_book() as environment, tempfile.TemporaryDirectory() as folder:
        step("proof", "fill", max(2, records // EACH), environment=environment)
        found: dict[str, Any] = {}
        path = str(Path(folder) / "package.zip")
        for what in ("table", "package", "check", "record"):
            found |= step("proof", what, path, environment=environment)
        return Costs(**found)


def table(costs: list[Costs]) -> Table:
    return Table(
        "What being provable costs",
        (
            "records", "a record, ms", "with its place in the log", "CSV, s",
            "times the database's own copy", "peak MB", "package, s", "peak MB", "verify.py, s",
            "peak MB",
        ),
        [
            (
                f"{one.records:,}", f"{one.record_ms:.2f}", f"{one.record_ratio:.3f}",
                f"{one.csv_s:.1f}", f"{one.csv_ratio:.1f}", f"{one.csv_mb:.0f}",
                f"{one.package_s:.1f}", f"{one.package_mb:.0f}", f"{one.verify_s:.1f}",
                f"{one.verify_mb:.0f}",
            )
            for one in costs
        ],
        "With its place in the log: a record, its number and its share of a checkpoint for "
        f"{AT_ONCE} of them, over the record alone; the median of {ROUNDS} pairs.",
    )  # fmt: skip


# Each of these is a process of its own.


def fill_book(systems: int) -> dict[str, Any]:
    fill(systems)
    return {"systems": systems}


def csv_of_all(path: str) -> dict[str, Any]:
    """As the auditor's page streams it."""
    from django.db import connection

    from registry.models import Record
    from reports.ledger.csv_rows import LedgerExport

    records = Record.objects.order_by("-recorded_at", "-pk")
    clock = time.perf_counter if connection.vendor == "postgresql" else time.process_time
    seconds, ratios, peak = [], [], 0.0
    for _ in range(PAIRS):
        begin = clock()
        for piece in LedgerExport(records, "si").text():
            piece.encode()
        seconds.append(clock() - begin)
        peak = peak or peak_mb()
        ratios.append(seconds[-1] / _copied())
    return {
        "records": records.count(), "csv_s": statistics.median(seconds), "csv_mb": peak,
        "csv_ratio": statistics.median(ratios),
    }  # fmt: skip


ROWS = (
    "SELECT t.name, s.tag, r.*, u.name, u.uuid, s.head_hash FROM registry_record r "
    "JOIN registry_system s ON s.id = r.system_id JOIN registry_site t ON t.id = s.site_id "
    "JOIN registry_user u ON u.id = r.recorded_by_id ORDER BY r.recorded_at DESC, r.id DESC"
)


def _copied() -> float:
    """COPY of PostgreSQL; of SQLite, which has none, its cursor through the csv module in C."""
    from django.db import connection

    with connection.cursor() as cursor, Path(os.devnull).open("w", newline="") as out:
        if connection.vendor == "postgresql":
            begin = time.perf_counter()
            with cursor.cursor.copy(f"COPY ({ROWS}) TO STDOUT (FORMAT csv)") as copy:
                for _ in copy:
                    pass
            return time.perf_counter() - begin
        begin = time.process_time()
        csv.writer(out).writerows(connection.connection.execute(ROWS))
        return time.process_time() - begin


def package_of_all(path: str) -> dict[str, Any]:
    """All records with the log, without what other apps add."""
    from registry.models import Organisation, User
    from registry.services.log import number_all
    from registry.services.packages import Scope, write_package

    owner = Organisation.objects.get()
    number_all(owner, now=NOW)
    begin = time.process_time()
    with Path(path).open("wb") as out:
        write_package(out, scope=Scope(owner), made_by=User.objects.get(), now=NOW)
    return {"package_s": time.process_time() - begin, "package_mb": peak_mb()}


def check_package(path: str) -> dict[str, Any]:
    begin = time.process_time()
    code = verify.main([path])
    seconds = time.process_time() - begin
    assert code == 3  # the signer is not named
    return {"verify_s": seconds, "verify_mb": peak_mb()}


def one_record(path: str) -> dict[str, Any]:
    """Pairs in one process: so many records, and then their numbers and a checkpoint."""
    from registry import services
    from registry.models import Organisation, System, User
    from registry.services.log import make_checkpoint, number_all

    owner, person = Organisation.objects.get(), User.objects.get()
    systems = list(System.objects.order_by("pk")[:AT_ONCE])
    plain, ratios = [], []
    for _ in range(ROUNDS):
        begin = time.process_time()
        for system in systems:
            services.record(
                system=system, kind="event.observation", occurred_at=NOW,
                details={"text": "Nothing unusual"}, recorded_by=person, now=NOW,
            )  # fmt: skip
        alone = time.process_time() - begin
        number_all(owner, now=NOW)
        make_checkpoint(owner, now=NOW)
        both = time.process_time() - begin
        plain.append(1000 * alone / len(systems))
        ratios.append(both / alone)
    return {"record_ms": statistics.median(plain), "record_ratio": statistics.median(ratios)}


STEPS = {
    "table": csv_of_all,
    "package": package_of_all,
    "check": check_package,
    "record": one_record,
}


if __name__ == "__main__":
    name, argument = sys.argv[1:]
    if name != "check":  # which stands alone
        import django

        django.setup()
    with redirect_stdout(sys.stderr):
        found = fill_book(int(argument)) if name == "fill" else STEPS[name](argument)
    print(json.dumps(found))
