"""What being provable costs: a record with the log and without, records as CSV beside the own copy
of the database, a package of the whole book, and checking it.

Run `python -m tests.benchmarks --part proof [--size RECORDS]`. Seconds are of the processor, of the
process that does the work; where the server copies, they are of the clock.
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
ROUNDS, AT_ONCE = 15, 40


@dataclass(frozen=True)
class Costs:
    records: int
    record_ms: float
    record_ratio: float
    csv_s: float
    copy_s: float
    csv_mb: float
    package_s: float
    package_mb: float
    verify_s: float
    verify_mb: float

    @property
    def csv_ratio(self) -> float:
        return self.csv_s / self.copy_s


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
    """Records of the scratch book have no hashes: they are chained afterwards."""
    from django.db import connection

    from registry.chain import record_hash
    from registry.models import Record, System
    from registry.services.ledger import record_body

    fill(systems)
    rows = Record.objects.select_related("system", "recorded_by", "supersedes", "inerting_run")
    last: dict[int, str] = {}
    done: list[tuple[str, str, int]] = []
    update = "UPDATE registry_record SET previous_hash = %s, hash = %s WHERE id = %s"
    for row in rows.order_by("system", "sequence").iterator(5000):
        row.previous_hash = last.get(row.system_id, "")
        row.hash = record_hash(row.previous_hash, record_body(row))
        last[row.system_id] = row.hash
        done.append((row.previous_hash, row.hash, row.pk))
    with connection.cursor() as cursor:
        for begin in range(0, len(done), 20_000):
            cursor.executemany(update, done[begin : begin + 20_000])
        heads = "UPDATE registry_system SET head_hash = %s WHERE id = %s"
        cursor.executemany(heads, [(hash, pk) for pk, hash in last.items()])
    return {"systems": System.objects.count()}


def csv_of_all(path: str) -> dict[str, Any]:
    """As the auditor's page streams it."""
    from registry.models import Record
    from registry.proof.cells import csv_lines
    from reports.ledger import page
    from reports.ledger.csv_rows import LEDGER_COLUMNS, ledger_line

    records = page.with_all_that_is_shown(Record.objects.all()).order_by("-recorded_at", "-pk")
    begin = time.process_time()
    shown = page.rows(records.iterator(chunk_size=1000), "si")
    count = sum(1 for _ in csv_lines(LEDGER_COLUMNS, (ledger_line(row, {}) for row in shown)))
    seconds = time.process_time() - begin
    peak = peak_mb()
    return {
        "records": count - 1, "csv_s": seconds, "csv_mb": peak, "copy_s": _copied(),
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
