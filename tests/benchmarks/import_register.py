"""How fast a register is imported, beside the least that any import must do.

Run `python -m tests.benchmarks --part import [--size N ...]`, N rows of pipe. Each size in a book
of its own: looked at without loading, loaded, and loaded again, when nothing is left to do. The
floor is the same file read by `csv.reader`, and the very rows that the load left in the book
inserted in bulk into a second, empty one, chunk by chunk: systems, records, pipe runs, atmosphere,
protection, assessments. Waiting for the disk at the end of each transaction counts on both sides.
"""

import csv
import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import timedelta
from functools import partial
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any

from tests.benchmarks.scratch import NOW, PER_SITE, peak_mb, scratch_book, step
from tests.benchmarks.tables import Table

RUNS = (
    ("riser", '6"', "10"), ("feed main", "4 in", "Sch 10"), ("cross main", "DN65", "sch40"),
    ("branch line", "1-1/4", "40"),
)  # fmt: skip
CHUNK = 1000
HEADINGS = ("Property", "Bldg", "System No", "System type", "Hazard class", "Pipe", "Pipe material",
            "Sch", "Size", "Length (ft)", "Date installed", "N2 supply", "Notes")  # fmt: skip


@dataclass(frozen=True)
class Timing:
    """Seconds by the clock, and for the load those of this process too, which neighbours on the
    machine leave alone."""

    rows: int
    looked: float
    loaded: float
    again: float
    loaded_cpu: float
    loaded_mb: float


@dataclass(frozen=True)
class Floor:
    seconds: float
    cpu: float


def write_register(path: Path, rows: int, seed: int = 1) -> None:
    """As people write one: four runs a system, twenty systems a site, spellings mixed."""
    random = Random(seed)
    with path.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file).writerow
        write(HEADINGS)
        for at in range(rows):
            system = at // len(RUNS)
            role, size, schedule = RUNS[at % len(RUNS)]
            dry = system % 2
            write([
                f"Quay {system // PER_SITE}", f"Shed {system % 3}", f"Q-{system:06d}",
                ("Wet pipe", "DRY")[dry], ("OH1", "OH 2")[dry], role,
                ("black steel", "galv")[dry], schedule, size,
                f"{random.randint(10, 900)}.{random.randint(0, 9)}", 1970 + system % 50,
                ("no", "generator")[dry], "",
            ])  # fmt: skip


def measure(rows: int) -> tuple[Timing, Floor]:
    with scratch_book() as environment:
        folder = Path(environment["RISERBOOK_VAR_DIR"])
        write_register(folder / "register.csv", rows)
        timing = Timing(**step("import_register", "load", environment=environment))
        with scratch_book() as empty:
            dump = folder / "rows.json"
            step("import_register", "dump", dump, environment=environment)
            register = folder / "register.csv"
            floor = step("import_register", "floor", dump, register, environment=empty)
            return timing, Floor(**floor)


def table(timings: list[tuple[Timing, Floor]]) -> Table:
    rows = []
    for timing, floor in timings:
        rows.append((
            f"{timing.rows:,}", f"{timing.looked:.1f}", f"{timing.loaded:.1f}",
            f"{timing.again:.1f}", f"{floor.seconds:.1f}", f"{timing.loaded / floor.seconds:.2f}",
            f"{timing.loaded_cpu / floor.cpu:.2f}", f"{timing.loaded_mb:.0f}",
        ))  # fmt: skip
    heads = ("rows", "looked at, s", "loaded, s", "loaded again, s", "csv and bulk insert, s",
             "loaded / that", "in processor time", "peak MB")  # fmt: skip
    return Table("A register imported", heads, rows)


def load_book() -> Timing:
    """Inside the scratch book: looked at, loaded, loaded again."""
    from django.conf import settings

    from registry.imports.answers import Answers
    from registry.imports.load import run_import
    from registry.models import Organisation, User

    path = Path(settings.MEDIA_ROOT).parent / "register.csv"
    owner = Organisation.objects.create(kind="owner", name="Averhythe Quays")
    person = User.objects.create_user("bench@averhythe.example", name="Olive Manager")
    found: list[Any] = []

    def run(days: int, by: Any) -> tuple[float, float]:
        def work() -> None:
            now = NOW + timedelta(days=days)
            found.append(run_import(path, owner=owner, answers=Answers(), now=now, recorded_by=by))

        return seconds(work)

    (looked, _), (loaded, loaded_cpu), (again, _) = run(0, None), run(0, person), run(1, person)
    first, last = found[1], found[2]
    assert first.new == first.rows, first.groups
    assert last.known == last.rows, last.groups
    return Timing(first.rows, looked, loaded, again, loaded_cpu, peak_mb())


def tables() -> list[Any]:
    from registry.models import (
        Assessment,
        AtmosphereSpan,
        Building,
        Organisation,
        PipeRun,
        ProtectionSpan,
        Record,
        Site,
        System,
        User,
    )

    return [Organisation, User, Site, Building, System, Record, PipeRun, AtmosphereSpan,
            ProtectionSpan, Assessment]  # fmt: skip


def dump_rows(to: Path) -> None:
    from django.core.serializers import serialize

    with to.open("w", encoding="utf-8") as file:
        for model in tables():
            rows = iter(model._base_manager.order_by("pk").iterator(CHUNK))
            while chunk := list(islice(rows, CHUNK)):
                file.write(serialize("json", chunk).replace("\n", " ") + "\n")


def insert_rows(dump: Path, register: Path) -> Floor:
    """Only the reading of the CSV file and the inserts themselves are counted."""
    took, cpu = seconds(lambda: [len(row) for row in _csv(register)])
    for rows in _chunks(dump):
        own, own_cpu = seconds(partial(_insert, rows))
        took, cpu = took + own, cpu + own_cpu
    return Floor(took, cpu)


def _insert(rows: list[Any]) -> None:
    from django.db import transaction

    with transaction.atomic():
        type(rows[0])._base_manager.bulk_create(rows)


def _csv(path: Path) -> Iterator[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        yield from csv.reader(file)


def _chunks(dump: Path) -> Iterator[list[Any]]:
    from django.core.serializers import deserialize

    with dump.open(encoding="utf-8") as file:
        for line in file:
            yield [one.object for one in deserialize("json", line)]


def seconds(work: Callable[[], Any]) -> tuple[float, float]:
    """By the clock, and of this process."""
    begin, begin_cpu = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - begin, time.process_time() - begin_cpu


if __name__ == "__main__":
    import django

    django.setup()
    match sys.argv[1:]:
        case ["load"]:
            print(json.dumps(asdict(load_book())))
        case ["dump", to]:
            print(json.dumps(dump_rows(Path(to))))
        case ["floor", dump, register]:
            print(json.dumps(asdict(insert_rows(Path(dump), Path(register)))))
