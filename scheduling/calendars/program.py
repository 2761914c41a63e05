"""What a feed shows beside its rows: the program that writes it and the rules of time zones."""

import hashlib
from functools import cache
from importlib.metadata import version
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.urls import reverse

from scheduling.calendars.zones import describe_zone

LIBRARIES = ("icalendar", "Django")
YEARS = (1990, 2100)


def edition() -> str:
    """Another one wherever other words could come of the same rows."""
    return f"{_program()} {settings.PUBLIC_URL}{reverse('scheduling:task', args=[0])}"


@cache
def _program() -> str:
    """Of every source file below scheduling and registry: too much rather than one too few."""
    sources = hashlib.sha256()
    for app in ("registry", "scheduling"):
        for path in sorted(Path(apps.get_app_config(app).path).rglob("*.py")):
            sources.update(path.read_bytes())
    return f"{sources.hexdigest()} {' '.join(version(name) for name in LIBRARIES)}"


@cache
def rules_of(zone: str) -> str:
    """A zone's changes of clocks; a new edition of the zone tables is another program."""
    return hashlib.sha256(describe_zone(zone, *YEARS).to_ical()).hexdigest()
