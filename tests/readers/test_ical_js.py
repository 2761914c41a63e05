"""ical.js: what a browser's calendar makes of a feed, against what the database says."""

from datetime import UTC, datetime, timedelta

import pytest

from registry.models import Record
from scheduling.calendars.file import CalendarFile
from scheduling.calendars.tokens import issue_token
from scheduling.models import Occurrence, Task
from tests.factories import make_system
from tests.readers.conftest import DAY, NASTY, NASTY_LINES, next_change, place
from tests.readers.tools import read_with_ical_js
from tests.scheduling.recurring_world import adopt, open_of

pytestmark = pytest.mark.django_db
PLANNED = datetime(2026, 1, 12, 12, tzinfo=UTC)


def instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_every_follow_up_is_read_at_its_instant(everything, subscribe):
    entries = read_with_ical_js(subscribe())
    tasks = Task.objects.all()
    assert len(tasks) == 5
    for task in tasks:
        entry = entries[str(task.uuid)]
        assert (instant(entry["start"]), instant(entry["end"])) == (task.starts_at, task.ends_at)
        assert int(entry["sequence"]) == task.sequence
        assert (entry["status"] == "CANCELLED") == (task.status == "withdrawn")
        assert entry["alarms"] == ([-86400] if task.is_open else [])


@pytest.mark.parametrize("tag", ["NQ-1", "FS-1"])
@pytest.mark.parametrize("turn", ["the next change", "the one after it"])
def test_eight_oclock_is_eight_oclock_around_a_change_of_the_clocks(
    everything, subscribe, now, tag, turn
):
    order = everything.orders[tag]
    change = next_change(order.time_zone, now.date())
    if turn == "the one after it":
        change = next_change(order.time_zone, change + DAY)
    offsets = set()
    for day in (change - DAY, change, change + DAY):
        place(order, day, 8)
        start = instant(read_with_ical_js(subscribe())[str(order.uuid)]["start"])
        assert start == order.starts_at
        local = start.astimezone(order.zone)
        assert (local.date(), local.hour) == (day, 8)
        offsets.add(local.utcoffset())
    assert len(offsets) == 2  # or this was no change of the clocks
    order.refresh_from_db()
    assert order.sequence == 3


def test_recurring_work_is_whole_days_planned_or_expected(everything, subscribe):
    entries = read_with_ical_js(subscribe())
    rows = Occurrence.objects.select_related("item")
    assert {row.status for row in rows} == {"open", "done", "skipped"}
    for row in rows:
        entry = entries.pop(str(row.uuid))
        next_day = row.due_on + timedelta(days=1)
        assert (entry["start"], entry["end"]) == (f"{row.due_on}", f"{next_day}")
        assert (entry["status"] == "CANCELLED") == row.is_given_up
        # a day before, counted from eight o'clock
        assert entry["alarms"] == ([-16 * 3600] if row.is_open else [])
    expected = [entry for entry in entries.values() if entry["summary"].startswith("Expected")]
    assert len(expected) > 30
    assert all(len(entry["start"]) == len("2026-06-01") for entry in expected)


def test_impairments_run_from_start_to_end(everything, subscribe):
    entries = read_with_ical_js(subscribe())
    starts = Record.objects.filter(kind="event.impairment_start").order_by("occurred_at")
    found = [entries[str(start.uuid)] for start in starts]
    assert [instant(entry["start"]) for entry in found] == [row.occurred_at for row in starts]
    assert [entry["status"] for entry in found] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    running, ended, _ = found
    assert instant(running["end"]) > datetime.now(UTC)
    end = Record.objects.get(kind="event.impairment_end")
    assert instant(ended["end"]) == end.occurred_at


def test_nasty_texts_arrive_as_they_were_typed(everything, subscribe):
    entries = read_with_ical_js(subscribe())
    order = entries[str(everything.orders["NQ-2; a,b"].uuid)]
    assert order["summary"] == "Re-inerting order, NQ-2; a,b"
    assert order["location"].endswith(", ".join(part.strip() for part in NASTY_LINES.splitlines()))
    assert entries[str(everything.orders["FS-1"].uuid)]["location"].startswith(NASTY)
    impairment = next(e for e in entries.values() if e["summary"] == "Out of service: NQ-1")
    assert f"Reason: {NASTY_LINES}".strip() in impairment["description"]


def test_late_recurring_work_moves_what_is_expected_without_renaming_it(world):
    system = make_system(world.site, world.owner, now=PLANNED)
    adopt(world.site, world.owner, now=PLANNED)
    token, _ = issue_token(
        user=world.owner, label="Mine", scope="person", now=PLANNED, holds=("recurring",),
        horizon_days=365,
    )  # fmt: skip
    late = open_of(system, "gauges").late_at + 9 * DAY
    first, second = (
        read_with_ical_js(CalendarFile(token, now).body()) for now in (late, late + DAY)
    )
    read = [uid for uid, entry in first.items() if "Expected: Read the gauges" in entry["summary"]]
    assert len(read) > 8
    for uid in read:
        before, after = first[uid], second[uid]
        assert after["start"] > before["start"]
        assert int(after["sequence"]) == int(before["sequence"]) + 1
