"""What the processes of the import faults do, each in a process of its own."""

import json
import os
import sys
from datetime import timedelta
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django  # noqa: E402

django.setup()

from django.core.files.uploadedfile import SimpleUploadedFile  # noqa: E402
from django.utils import timezone  # noqa: E402

from registry.imports import jobs  # noqa: E402
from registry.models import ImportBatch, PipeRun, Record, System  # noqa: E402

SILENT = timedelta(hours=1)


def receive(folder: str, rows: int) -> dict:
    """A register whose load is asked for and waits for a worker."""
    from tests.benchmarks.import_register import write_register
    from tests.conftest import make_world

    world = make_world()
    path = Path(folder) / "register.csv"
    write_register(path, rows)
    jobs.INLINE_ROWS = 0
    batch = jobs.receive(
        owner=world.owner_organisation, uploaded_by=world.owner, now=timezone.now(),
        upload=SimpleUploadedFile("register.csv", path.read_bytes()),
    )  # fmt: skip
    jobs.advance(batch.pk)
    batch.refresh_from_db()
    jobs.load(batch, loaded_by=world.owner, now=timezone.now())
    return {"batch": batch.pk, "new": batch.outcome["new"]}


def advance(batch: int) -> dict:
    jobs.advance(batch)
    return state(batch)


def fall_silent(batch: int) -> dict:
    """As if the worker had died long ago."""
    left = ImportBatch.objects.filter(pk=batch)
    left.update(heartbeat_at=timezone.now() - SILENT)
    return state(batch)


def state(batch: int) -> dict:
    from registry.chain import verify
    from registry.services.ledger import links

    one = ImportBatch.objects.get(pk=batch)
    broken = [system.tag for system in System.objects.all() if verify(links(system))]
    return {
        "state": one.state, "error": one.error, "attempts": one.attempts,
        "systems": System.objects.count(), "runs": PipeRun.objects.count(),
        "records": Record.objects.count(), "broken": broken,
    }  # fmt: skip


DEEDS = {each.__name__: each for each in (receive, advance, fall_silent, state)}

if __name__ == "__main__":
    name, *arguments = sys.argv[1:]
    print(json.dumps(DEEDS[name](*(int(word) if word.isdigit() else word for word in arguments))))
