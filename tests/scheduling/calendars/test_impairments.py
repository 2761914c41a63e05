"""Impairments in calendars: from the start to the end that the ledger tells."""

from datetime import UTC, datetime, timedelta

import pytest

from registry import services
from scheduling.calendars.scope import other_entries
from scheduling.calendars.tokens import issue_token
from tests.factories import NOW, make_building, make_record, make_system
from tests.restoration import RESTORED
from tests.scheduling.ledger import DAY

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def begin(system, at, now=NOW, areas="Bay 1", **details):
    return make_record(system, "event.impairment_start", at, now=now, areas=areas, **details)


def end(system, at, now=NOW, **details):
    return make_record(system, "event.impairment_end", at, now=now, **RESTORED, **details)


def read(user, now=NOW, **facts):
    facts = {"scope": "person", "holds": ("impairments",), **facts}
    token, _ = issue_token(user=user, label="Mine", now=NOW, **facts)
    return other_entries(token, now)


def test_a_running_impairment_lasts_to_the_end_of_the_day_at_the_site(world, system):
    start = begin(system, NOW - 2 * HOUR, reason="Valve repair", told="Fire department")
    (entry,) = read(world.viewer)
    assert entry.uid == str(start.uuid)
    assert entry.slot.starts_at == NOW - 2 * HOUR
    assert entry.slot.ends_at == datetime(2026, 6, 1, 23, tzinfo=UTC)  # midnight of summer time
    assert entry.text.summary == "Out of service: NQ-101"
    assert entry.text.priority == 1
    for words in ("Bay 1", "Valve repair", "Fire department", "Check the adopted edition"):
        assert words in entry.text.description


def test_with_an_expected_end_it_lasts_to_that_day_and_says_so(world, system):
    begin(system, NOW - 2 * HOUR, expected_end_on="2026-06-03")
    readings = [read(world.technician, NOW + days * DAY)[0] for days in range(4)]
    ends = [entry.slot.ends_at for entry in readings]
    assert ends == [datetime(2026, 6, day, 23, tzinfo=UTC) for day in (3, 3, 3, 4)]
    assert [entry.sequence for entry in readings] == [0, 0, 0, 1]
    assert all("restored by 3 June 2026" in entry.text.description for entry in readings)
    assert ["has passed" in entry.text.description for entry in readings] == [False] * 3 + [True]


def test_without_an_expected_day_the_end_is_open(world, system):
    begin(system, NOW - 2 * HOUR)
    (entry,) = read(world.technician)
    assert entry.slot.ends_at == datetime(2026, 6, 1, 23, tzinfo=UTC)
    assert "Nobody has said by when" in entry.text.description


def test_it_says_when_ten_hours_are_over_and_goes_on_saying_so(world, system):
    """8 h and 3 h on one day count as over 10 h: the answer that the fire-watch clock cites."""
    begin(system, NOW - 14 * HOUR)
    end(system, NOW - 6 * HOUR)
    begin(system, NOW - 1 * HOUR)
    words = "more than 10 hours within 24 from 1 June 2026, 14:00 on"
    for now in (NOW, NOW + 8 * HOUR):
        running = next(e for e in read(world.viewer, now) if "Out of" in e.text.summary)
        assert words in running.text.description


def test_it_is_revised_once_a_day_and_not_with_every_reading(world, system):
    begin(system, NOW - 2 * HOUR)
    today = [read(world.viewer, NOW + minutes * HOUR)[0] for minutes in (0, 1, 9)]
    tomorrow = [read(world.viewer, NOW + DAY + hours * HOUR)[0] for hours in (0, 5)]
    assert today[0] == today[1] == today[2]
    assert tomorrow[0] == tomorrow[1]
    assert (today[0].sequence, tomorrow[0].sequence) == (0, 1)
    assert tomorrow[0].modified_at == datetime(2026, 6, 1, 23, tzinfo=UTC)


def test_the_end_is_that_of_the_ledger_and_stays_for_thirty_days(world, system):
    begin(system, NOW - 2 * HOUR)
    (before,) = read(world.viewer)
    end(system, NOW + HOUR, now=NOW + 2 * HOUR, checks="Valve open and sealed")
    (after,) = read(world.viewer, NOW + 3 * HOUR)
    assert after.uid == before.uid
    assert after.sequence == 1
    assert after.slot.ends_at == NOW + HOUR
    assert after.modified_at == NOW + 2 * HOUR
    assert after.text.summary == "Restored: NQ-101"
    assert "Valve open and sealed" in after.text.description
    assert read(world.viewer, NOW + 30 * DAY)
    assert read(world.viewer, NOW + 30 * DAY + HOUR) == []


def test_a_corrected_start_is_the_same_impairment_moved(world, system):
    start = begin(system, NOW - 5 * HOUR)
    (before,) = read(world.viewer)
    later = NOW + HOUR
    services.record(
        system=system, kind=start.kind, occurred_at=NOW - 3 * HOUR, details=start.details,
        recorded_by=world.owner, supersedes=start, now=later,
    )  # fmt: skip
    (after,) = read(world.viewer, later)
    assert (after.uid, after.sequence, after.modified_at) == (before.uid, 1, later)
    assert after.slot.starts_at == NOW - 3 * HOUR


def test_what_was_entered_by_mistake_is_cancelled_for_thirty_days(world, system):
    start = begin(system, NOW - 2 * HOUR)
    (before,) = read(world.viewer)
    services.withdraw(record=start, reason="Wrong system", recorded_by=world.owner, now=NOW)
    (after,) = read(world.viewer)
    assert (after.uid, after.sequence) == (before.uid, 1)
    assert after.slot.is_cancelled
    assert "Wrong system" in after.text.description
    assert read(world.viewer, NOW + 30 * DAY) == []


def test_an_end_that_was_withdrawn_leaves_the_impairment_running(world, system):
    begin(system, NOW - 5 * HOUR)
    ended = end(system, NOW - 4 * HOUR)
    (before,) = read(world.viewer)
    services.withdraw(record=ended, reason="Not yet", recorded_by=world.owner, now=NOW)
    (after,) = read(world.viewer)
    assert after.text.summary == "Out of service: NQ-101"
    assert (after.uid, after.sequence) == (before.uid, before.sequence + 1)


def test_one_that_lasts_for_months_is_shown_and_ended_ones_of_the_past_are_not(world, system):
    long_ago = NOW - 200 * DAY
    begin(system, long_ago, now=NOW)
    end(system, long_ago + DAY, now=NOW)
    assert read(world.viewer) == []
    lasting = begin(system, long_ago + 2 * DAY, now=NOW)
    assert [entry.uid for entry in read(world.viewer)] == [str(lasting.uuid)]


def test_an_end_at_the_instant_of_the_start_still_ends_later(world, system):
    begin(system, NOW - HOUR)
    end(system, NOW - HOUR)
    (entry,) = read(world.viewer)
    assert entry.slot.ends_at > entry.slot.starts_at


def test_only_those_who_may_see_the_system_see_its_impairments(world, system):
    system.building = make_building(world.site, "Shed 4")
    system.save()
    begin(system, NOW - HOUR)
    begin(make_system(world.site, world.owner, tag="NQ-102"), NOW - HOUR)
    assert read(world.stranger) == []
    assert len(read(world.technician)) == len(read(world.auditor)) == 2
    (one,) = read(world.owner, scope="building", building=system.building)
    assert one.slot.location == "Shed 4, North Quay, 1 Quay Road"
