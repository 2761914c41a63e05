"""The demo portfolio has a schedule worth looking at, and the same one at every loading."""

import csv
import json
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from scheduling.library import CONDITIONS, editions
from scheduling.library.types import SYSTEM_KINDS
from scheduling.management.commands.load_demo_schedule import load
from scheduling.models import Occurrence, RecurringItem
from tests.factories import make_system
from tests.scheduling.recurring_world import NOW

DEMO = Path(__file__).parents[3] / "fixtures" / "demo"


def facts():
    return json.loads((DEMO / "schedule.json").read_text("utf-8"))


def test_the_demo_schedule_names_what_the_register_and_the_library_hold():
    with (DEMO / "register.csv").open(encoding="utf-8", newline="") as lines:
        cells = {cell for row in csv.reader(lines) for cell in row}
    given = facts()
    assert {area["tag"] for area in given["sample_areas"]} <= cells
    assert set(given["editions"]) <= cells
    assert set(given["editions"].values()) <= set(editions())
    assert set(given["answers"]) <= set(SYSTEM_KINDS)
    assert {key for answers in given["answers"].values() for key in answers} <= set(CONDITIONS)


@pytest.mark.django_db
def test_a_little_of_the_demo_work_is_late_and_the_same_at_every_loading(world):
    for number in range(6):
        make_system(world.site, world.owner, tag=f"ED-{number:03d}", kind="dry")
    given = facts() | {
        "editions": {world.site.name: "nfpa25-2020"},
        "sample_areas": [facts()["sample_areas"][0]],
    }
    load(given, world.owner, NOW)
    late, every = Occurrence.objects.late(NOW).count(), Occurrence.objects.open().count()
    assert 0 < late < 0.15 * every
    days = dict(RecurringItem.objects.values_list("pk", "last_done_on"))
    load(given | {"sample_areas": []}, world.owner, NOW)
    assert days == dict(RecurringItem.objects.filter(pk__in=days).values_list("pk", "last_done_on"))


@pytest.mark.django_db
def test_without_the_demo_portfolio_there_is_nothing_to_plan():
    with pytest.raises(CommandError, match="load_demo"):
        call_command("load_demo_schedule")
