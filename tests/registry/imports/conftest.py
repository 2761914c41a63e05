from datetime import UTC, datetime
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings

from registry.imports.answers import Answers
from registry.imports.load import run_import
from registry.models import AtmosphereSpan, Building, PipeRun, Record, Site, System

SAMPLES = Path(settings.BASE_DIR) / "fixtures" / "samples"
BLACK = {"material:bs": "black_steel"}  # “BS” is asked about; most tests are of something else
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
HEADINGS = "Site,System tag,Type,Hazard,Pipe role,Material,Schedule,Nominal size,Length,Installed"


@pytest.fixture(autouse=True)
def _uploads_go_to_a_folder_of_the_test(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"


def plain_register(name: str = "register-messy.csv") -> bytes:
    """A carried register whose material is written out."""
    return (SAMPLES / name).read_bytes().replace(b",BS,", b",black steel,")


@pytest.fixture
def register_file(tmp_path):
    """Writes a small register: the ten usual columns, then those named in `more`."""

    def write(*rows: str, more: str = "", name: str = "register.csv") -> Path:
        headings = f"{HEADINGS},{more}" if more else HEADINGS
        path = tmp_path / name
        path.write_text("\n".join([headings, *rows]) + "\n", encoding="utf-8")
        return path

    return write


@pytest.fixture
def load(world):
    """Imports a file as the owner's manager, or only looks when `dry`; gives the outcome."""

    def run(path, *, dry=False, now=NOW, **answers):
        text = StringIO(newline="")
        outcome = run_import(
            path,
            owner=world.owner_organisation,
            answers=Answers(**{"words": BLACK} | answers),
            now=now,
            recorded_by=None if dry else world.owner,
            to_fix=text,
        )
        outcome.fixed = text.getvalue()
        return outcome

    return run


@pytest.fixture
def book(db):
    """Everything an import could change, to be compared before and after."""

    def state() -> dict:
        return {
            "sites": list(Site.objects.order_by("pk").values_list("pk", "name")),
            "buildings": list(Building.objects.order_by("pk").values_list("pk", "name")),
            "systems": [
                {name: value for name, value in row.items() if name != "open_rows"}
                for row in System.objects.order_by("pk").values()
            ],
            "runs": list(PipeRun.objects.order_by("pk").values()),
            "records": list(Record.objects.order_by("pk").values_list("pk", "hash")),
            "spans": list(AtmosphereSpan.objects.order_by("pk").values()),
        }

    return state
