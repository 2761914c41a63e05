"""One lateness: a follow-up and an inspection that end with the same day are late alike."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils import timezone

from scheduling.lateness import days_late, late_counts, late_words
from scheduling.models import Occurrence, Task
from tests.factories import make_record
from tests.scheduling.recurring_world import adopt

DAY = timedelta(days=1)
ZONE = ZoneInfo("America/New_York")


def test_days_are_those_of_the_site_and_begin_after_the_last_day_in_time():
    ends = datetime(2026, 3, 2, 5, tzinfo=UTC)  # midnight after 1 March in New York
    assert days_late(ends, ZONE, ends - timedelta(seconds=1)) is None
    assert days_late(ends, ZONE, ends) == 1
    assert days_late(ends, ZONE, ends + 3 * DAY) == 4
    assert [late_words(days) for days in (0, 1, 4)] == [
        "late since today", "1 day late", "4 days late",
    ]  # fmt: skip


def test_portfolio_system_and_work_say_the_same_number(client, world, system):
    now = timezone.now()
    make_record(system, "event.fire", now - 60 * DAY, world.owner, now=now - 60 * DAY)
    Task.objects.update(due_at=now - 3 * DAY)
    adopt(world.site, world.owner, now=now)
    Occurrence.objects.update(late_at=now + 90 * DAY)
    one = Occurrence.objects.open().first()
    Occurrence.objects.filter(pk=one.pk).update(late_at=now - 9 * DAY, opens_at=now - 20 * DAY)
    counted = late_counts(world.owner, now, soon=7 * DAY)
    assert counted.late_tasks == Task.objects.open().count() > 0
    assert counted.late == counted.late_tasks + counted.late_planned
    assert counted.late_planned == Occurrence.objects.late(now).count() == 1
    client.force_login(world.owner)
    for address in (reverse("reports:portfolio"), reverse("scheduling:work")):
        assert f"{counted.late}" in client.get(address).content.decode()
    zone = system.site.zone
    worst = late_words(days_late(now - 9 * DAY, zone, now))
    for address in (reverse("reports:portfolio"), system.get_absolute_url()):
        assert worst in client.get(address).content.decode()
