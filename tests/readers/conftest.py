"""A feed that holds one of every kind of entry, with texts made to break readers."""

from datetime import UTC, date, datetime, time, timedelta
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from registry import services as registry
from scheduling import recurring
from scheduling.calendars.tokens import issue_token
from scheduling.models import Task
from tests.factories import make_building, make_record, make_site, make_system
from tests.kept import Kept
from tests.restoration import RESTORED
from tests.scheduling.orders_world import make_order
from tests.scheduling.recurring_world import adopt, complete, open_of

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NASTY = "Dock; shed, \\ “north”: a,b;c"
NASTY_LINES = (
    "1 Quay Road; rear\nsecond, line\nBEGIN:VEVENT\nUID:x\nEND:VCALENDAR\n"
    + "Überlänge – 漢字かな交じり文 🔥 " * 4
)


@pytest.fixture(scope="session")
def now():
    """Feeds read the clock, so this world stands in the present."""
    return timezone.now().replace(microsecond=0)


@pytest.fixture
def subscribe(world):
    return subscription(world.owner, horizon_days=365)


def subscription(user, horizon_days: int):
    """A function that fetches a person's new feed, as a calendar program does."""
    _, secret = issue_token(
        user=user, label=NASTY, scope="person", now=timezone.now(), alarm="day",
        holds=("tasks", "recurring", "impairments"), horizon_days=horizon_days,
    )  # fmt: skip

    def fetch() -> bytes:
        response = Client().get(reverse("scheduling:feed", args=[secret]))
        assert response.status_code == 200
        return response.content

    return fetch


def make_everything(world, now):
    """Work, recurring work and impairments: open, done, given up, moved; in two zones."""
    world.site.address = NASTY_LINES
    world.site.save()
    make_building(world.site, NASTY)
    far = make_site(world.owner_organisation, name=NASTY, time_zone="America/New_York")
    systems = {
        tag: make_system(where, world.owner, tag=tag)
        for where, tag in [
            (world.site, "NQ-1"), (world.site, "NQ-2; a,b"), (far, "FS-1"), (far, "FS-2"),
        ]
    }  # fmt: skip
    orders = {tag: make_order(system, now=now) for tag, system in systems.items()}
    registry.withdraw(record=orders["FS-2"].cause, reason=NASTY, recorded_by=world.owner, now=now)
    _recurring_work(world, systems["NQ-1"], now)
    _impairments(world, systems, now)
    return SimpleNamespace(systems=systems, orders=orders)


EVERYTHING = Kept(make_everything)


@pytest.fixture
def everything(world, now):
    return EVERYTHING(world, now)


def _recurring_work(world, system, now) -> None:
    adopt(world.site, world.owner, now=now)
    complete(open_of(system, "gauges"), world.technician, now)
    recurring.skip_occurrence(
        occurrence=open_of(system, "main-drain"), reason=NASTY, recorded_by=world.owner, now=now
    )


def _impairments(world, systems, now) -> None:
    def begin(tag, hours):
        return make_record(
            systems[tag], "event.impairment_start", now - hours * HOUR, now=now,
            areas=NASTY, reason=NASTY_LINES, told=NASTY,
        )  # fmt: skip

    begin("NQ-1", 30)
    begin("FS-1", 9)
    make_record(
        systems["FS-1"], "event.impairment_end", now - 2 * HOUR, now=now,
        **RESTORED, checks=NASTY,
    )  # fmt: skip
    mistaken = begin("FS-2", 3)
    registry.withdraw(record=mistaken, reason=NASTY, recorded_by=world.owner, now=now)


def place(task: Task, day: date, hour: int) -> None:
    """Set the time aside anew; the next reading of a feed revises the follow-up."""
    starts_at = datetime.combine(day, time(hour), tzinfo=task.zone).astimezone(UTC)
    Task.objects.filter(pk=task.pk).update(starts_at=starts_at, ends_at=starts_at + 8 * HOUR)
    task.refresh_from_db()


def next_change(zone: str, after: date) -> date:
    """The next day on which the clocks of a zone change, found without the project's own code."""
    info, day = ZoneInfo(zone), after
    while _midnight(day, info).utcoffset() == _midnight(day + DAY, info).utcoffset():
        day += DAY
    return day


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(0), tzinfo=zone)
