"""A scratch book: a database of its own in the ordinary settings, filled by bulk inserts.

Steps run as processes of their own, so that the peak memory of one says nothing of another. The
database is a SQLite file, or lies on the server that DATABASE_URL names. Hashes are left empty.
"""

import json
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import urlsplit

ROOT = Path(__file__).parents[2]
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
BEGAN = datetime(2018, 1, 1, tzinfo=UTC)
BATCH = 500
PER_SITE = 20
PIPES = (
    ("riser", "6", 168.3, 3.40), ("feed_main", "4", 114.3, 3.05), ("cross_main", "4", 114.3, 3.05),
    ("cross_main", "2-1/2", 73.0, 3.05), ("branch_line", "1-1/2", 48.3, 3.68),
    ("branch_line", "1-1/4", 42.2, 3.56), ("branch_line", "1-1/4", 42.2, 3.56),
    ("branch_line", "1", 33.4, 3.38),
)  # fmt: skip
SAFE = {
    "nitrogen_before_opening": "yes", "regulator_above_system": "yes", "flow_until_empty": "yes",
    "one_drain_at_a_time": "yes", "extent": "whole",
}  # fmt: skip
EVENTS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("event.drain_down", SAFE),
    ("event.drain_down", SAFE | {"one_drain_at_a_time": "no"}),
    ("event.water_fill", {}),
    ("event.head_break", {"count": 1}),
    ("event.repair", {"pipe_opened": "yes"}),
    ("event.test_flow", {}),
    ("reading.gas", {"n2_percent": 98.4}),
    ("reading.gas", {"n2_percent": 97.1}),
    ("inerting.accepted", {"fill": 3, "n2_percent": 98.6, "target_n2_percent": 98.0}),
    ("event.observation", {"text": "Nothing unusual"}),
)
RARE: tuple[tuple[str, dict[str, Any]], ...] = (
    ("reading.wall", {"nominal_size": "4", "wall_mm": 2.8}),
    ("event.leak", {"form": "pinhole", "through": "water"}),
)
EVENTS_EACH = 20


def peak_mb() -> float:
    """The most memory this process held. Linux lets a process begin with the peak of the one that
    started it, so it is read from where it begins anew."""
    status = Path("/proc/self/status")
    if status.exists():
        [line] = [each for each in status.read_text().splitlines() if each.startswith("VmHWM")]
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@contextmanager
def scratch_book() -> Iterator[dict[str, str]]:
    """The environment of an empty book, with its tables, that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="riserbook-bench-") as folder:
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "RISERBOOK_VAR_DIR": folder,
        }
        with _server_database(os.environ.get("DATABASE_URL", "")) as url:
            environment |= {"DATABASE_URL": url} if url else {}
            command = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
            subprocess.run(command, cwd=ROOT, env=environment, check=True)
            yield environment


@contextmanager
def _server_database(url: str) -> Iterator[str]:
    """A new database beside the one that is named; nothing to make where it would be a file."""
    if not url.startswith("postgres"):
        yield ""
        return
    import psycopg

    name = f"riserbook_scratch_{os.getpid()}"
    maintenance = urlsplit(url)._replace(path="/postgres").geturl()
    with psycopg.connect(maintenance, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
        try:
            yield urlsplit(url)._replace(path=f"/{name}").geturl()
        finally:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def step(module: str, *arguments: object, environment: dict[str, str]) -> Any:
    """What a benchmark's module prints as JSON when run as a process of its own."""
    command = [sys.executable, "-m", f"tests.benchmarks.{module}", *map(str, arguments)]
    done = subprocess.run(command, cwd=ROOT, env=environment, check=True, stdout=subprocess.PIPE)
    return json.loads(done.stdout or "null")


def fill(systems: int, seed: int = 1) -> None:
    """Systems of 8 pipe runs and 20 events each, every second one dry, at sites of 20; their
    atmosphere is stored, as every record does it."""
    from registry.models import Membership, Organisation, User

    owner = Organisation.objects.create(kind="owner", name="Averhythe Quays")
    person = User.objects.create_user("bench@averhythe.example", name="Olive Manager")
    Membership.objects.create(user=person, organisation=owner, role="manager")
    random = Random(seed)
    for begin in range(0, systems, BATCH):
        _fill_batch(owner, person, range(begin, min(begin + BATCH, systems)), random)


def _fill_batch(owner, person, numbers: range, random: Random) -> None:
    from django.db import transaction

    from registry.models import PipeRun, Record, Site, System
    from registry.services.derive import rederive_many

    with transaction.atomic():
        first = numbers.start // PER_SITE
        sites = Site.objects.bulk_create(
            Site(owner=owner, name=f"Quay {first + at}", time_zone="Europe/London")
            for at in range(-(-len(numbers) // PER_SITE))
        )
        systems = System.objects.bulk_create(
            _system(sites[at // PER_SITE], number, random) for at, number in enumerate(numbers)
        )
        records = Record.objects.bulk_create(
            record for system in systems for record in _ledger(system, person, random)
        )
        System.objects.bulk_update(systems, ["head_hash"])
        pipes = [record for record in records if record.kind == "register.pipe"]
        PipeRun.objects.bulk_create(_pipe(record, random) for record in pipes)
        rederive_many(systems, now=NOW)


def _system(site, number: int, random: Random):
    from registry.models import System

    is_dry = number % 2
    return System(
        site=site,
        tag=f"Q-{number:06d}",
        kind="dry" if is_dry else "wet",
        installed_on=date(random.randint(1996, 2017), 3, 1),
        gas_supply="generator" if is_dry else "cylinders",
        service_pressure_gauge_pa=2.8e5 if is_dry else None,
        consequence_class=random.randint(1, 5),
        next_sequence=2 + len(PIPES) + EVENTS_EACH,
    )


def _ledger(system, person, random: Random):
    """The entry of the system and its pipe, then its events, oldest first."""
    from registry.chain import record_hash
    from registry.models import Record
    from registry.services.ledger import record_body

    watched_s = (NOW - BEGAN).total_seconds()
    ages = sorted(random.uniform(0.0, watched_s) for _ in range(EVENTS_EACH))
    entered = [("register.system", {}, BEGAN), *(("register.pipe", {}, BEGAN) for _ in PIPES)]
    events = [(*_event(random), BEGAN + timedelta(seconds=age)) for age in ages]
    for sequence, (kind, details, at) in enumerate([*entered, *events], start=1):
        record = Record(
            system=system,
            sequence=sequence,
            kind=kind,
            occurred_at=at,
            recorded_at=at,
            recorded_by=person,
            details=details,
            previous_hash=system.head_hash,
        )
        record.hash = system.head_hash = record_hash(record.previous_hash, record_body(record))
        yield record


def _event(random: Random) -> tuple[str, dict[str, Any]]:
    """Answers as they come: chosen ones repeat, measured ones seldom, what was written never."""
    kind, details = random.choice(RARE if random.random() < 0.01 else EVENTS)
    if kind == "reading.gas":
        details = {"n2_percent": round(random.uniform(96.5, 98.8), 2)}
    elif kind == "event.observation":
        details = {"text": f"Nothing unusual; the gauge showed {random.uniform(30, 60):.6f} psi"}
    return kind, details


def _pipe(record, random: Random):
    from registry.models import PipeRun

    role, size, outside_mm, wall_mm = PIPES[(record.sequence - 2) % len(PIPES)]
    return PipeRun(
        system_id=record.system_id,
        record=record,
        role=role,
        material="galvanized_steel" if record.system.kind == "dry" else "black_steel",
        schedule="10",
        nominal_size=size,
        outside_diameter_mm=outside_mm,
        wall_mm=wall_mm,
        length_m=random.uniform(10.0, 200.0),
        joint="threaded" if role == "branch_line" else "roll_grooved",
        installed_on=record.system.installed_on,
    )


if __name__ == "__main__":
    import django

    django.setup()
    fill(int(sys.argv[1]))
