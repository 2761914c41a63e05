"""Recurring work in calendars: one name per occurrence for good, and revisions that follow it."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from django.urls import reverse
from django.utils import timezone

from scheduling import recurring
from scheduling.calendars.scope import other_entries
from scheduling.calendars.tokens import issue_token
from scheduling.models import FeedToken, Occurrence, RecurringItem
from tests.factories import make_site, make_system
from tests.scheduling.ledger import DAY
from tests.scheduling.recurring_world import NOW, adopt, complete, open_of

pytestmark = pytest.mark.django_db
KEY = "gauges"


@pytest.fixture
def planned(world, system):
    adopt(world.site, world.owner)
    return system


def make_token(user, horizon=90, **facts) -> FeedToken:
    facts = {"label": "Mine", "scope": "person", "holds": ("recurring",), **facts}
    return issue_token(user=user, now=NOW, horizon_days=horizon, **facts)[0]


def read(token, now=NOW, title="Read the gauges"):
    """The entries of one item, in order of their days."""
    found = [each for each in other_entries(token, now) if title in each.text.summary]
    return sorted(found, key=lambda each: each.slot.starts_at)


def by_uid(entries):
    return {entry.uid: entry for entry in entries}


def test_the_open_occurrence_is_a_whole_day_at_the_site(world, planned):
    (entry,) = read(make_token(world.owner, 0))
    row = open_of(planned, KEY)
    assert (entry.slot.starts_at, entry.slot.ends_at) == (row.due_on, row.due_on + DAY)
    assert not isinstance(entry.slot.starts_at, datetime)
    assert entry.slot.location == "North Quay, 1 Quay Road"
    assert "Check the adopted edition" in entry.text.description
    assert entry.text.url.endswith(f"/systems/{planned.pk}/schedule/")


@pytest.mark.parametrize("horizon", [0, 30, 90, 365])
def test_the_horizon_says_how_much_is_expected_ahead(world, planned, horizon):
    """Every month from the open one on, as dateutil counts months."""
    first, until = open_of(planned, KEY).due_on, NOW.date() + horizon * DAY
    months = (first + relativedelta(months=number) for number in range(1, 14))
    expected = [day for day in months if day <= until]
    entries = read(make_token(world.owner, horizon))
    assert [entry.slot.starts_at for entry in entries] == [first, *expected]
    assert [entry.text.summary for entry in entries] == [
        "Read the gauges, NQ-101", *["Expected: Read the gauges, NQ-101"] * len(expected),
    ]  # fmt: skip
    assert [entry.text.has_alarm for entry in entries] == [True, *[False] * len(expected)]


def test_what_was_expected_keeps_its_name_when_it_is_planned(world, planned):
    token = make_token(world.owner)
    first, second, *_ = read(token)
    now = datetime(2026, 7, 1, 12, tzinfo=UTC)
    assert first.slot.starts_at == now.date()
    complete(open_of(planned, KEY), world.technician, now)
    entries = by_uid(read(token, now))
    done, planned_now = entries[first.uid], entries[second.uid]
    assert done.text.summary == "Done: Read the gauges, NQ-101"
    assert (done.sequence, done.slot.is_cancelled, done.text.has_alarm) == (0, False, False)
    assert planned_now.text.summary == "Read the gauges, NQ-101"
    assert planned_now.uid == str(open_of(planned, KEY).uuid)
    assert planned_now.slot == replace(second.slot, is_tentative=False)
    assert (second.sequence, planned_now.sequence) == (0, 1)
    assert planned_now.modified_at > second.modified_at


def test_a_moved_due_day_raises_the_sequence_once_however_often_it_is_read(world, planned):
    token = make_token(world.owner, 0)
    (before,) = read(token)
    later = NOW + timedelta(hours=3)
    recurring.set_last_done(
        item=RecurringItem.objects.get(key=KEY), last_done_on=date(2026, 5, 20), now=later
    )
    moments = (later + DAY, later + 2 * DAY, later + 3 * DAY)
    (after,), *again = (read(token, now) for now in moments)
    assert after.uid == before.uid
    assert after.slot.starts_at == date(2026, 6, 20) != before.slot.starts_at
    assert (before.sequence, after.sequence) == (0, 1)
    assert after.modified_at == later  # when it was planned again, and not when it was read
    assert again == [[after], [after]]


def test_what_is_expected_keeps_its_name_while_late_work_moves_it_from_day_to_day(world, planned):
    token = make_token(world.owner, 365)
    late = datetime(2026, 7, 20, 12, tzinfo=UTC)
    days = [read(token, late + number * DAY) for number in range(3)]
    assert len({tuple(entry.uid for entry in entries[:11]) for entries in days}) == 1
    opened, second, third = ([entries[n] for entries in days] for n in range(3))
    for moved, first_day in (
        (opened, late.date()),
        (second, date(2026, 8, 20)),
        (third, date(2026, 9, 20)),
    ):
        assert [e.slot.starts_at for e in moved] == [first_day + n * DAY for n in range(3)]
        assert [e.sequence for e in moved] == sorted({e.sequence for e in moved})
    done_on = late + 2 * DAY
    complete(open_of(planned, KEY), world.technician, done_on)
    after = read(token, done_on)
    assert [e.uid for e in after[:3]] == [opened[0].uid, second[0].uid, third[0].uid]
    assert after[1].slot == replace(second[2].slot, is_tentative=False)
    assert after[1].sequence > second[2].sequence


def test_reading_changes_nothing_and_two_feeds_agree(world, planned):
    mine, theirs = make_token(world.owner), make_token(world.technician)
    assert read(mine) == read(mine, NOW + timedelta(minutes=5)) == read(theirs)


@pytest.mark.parametrize(
    ("days", "words"),
    [
        pytest.param(0, "", id="the last day of its window"),
        pytest.param(1, "1 day late: ", id="the day after"),
        pytest.param(12, "12 days late: ", id="twelve days after"),
    ],
)
def test_what_is_late_stands_at_today_and_says_how_late(world, planned, days, words):
    token, row = make_token(world.owner, 0), open_of(planned, KEY)
    read(token)
    now = datetime.combine(row.closes_on + days * DAY, time(12), tzinfo=UTC)
    (entry,) = read(token, now)
    assert entry.text.summary == f"{words}Read the gauges, NQ-101"
    assert entry.slot.starts_at == (now.date() if words else row.due_on)
    assert (entry.sequence, entry.slot.is_tentative) == (1 if words else 0, False)
    assert read(token, now) == [entry]


def test_what_is_planned_is_confirmed_and_what_is_expected_tentative(world, planned):
    opened, *expected = read(make_token(world.owner, 365))
    assert not opened.slot.is_tentative
    assert expected and all(entry.slot.is_tentative for entry in expected)
    assert not any(entry.slot.is_busy for entry in (opened, *expected))


def test_a_new_address_revises_what_is_planned_and_what_is_expected(world, planned):
    token = make_token(world.owner)
    before = read(token)
    world.site.address = "2 Quay Road"
    world.site.save()
    after = read(token, NOW + DAY)
    assert [e.sequence for e in before] == [0] * len(before)
    assert {e.sequence for e in after} == {1}
    assert {e.modified_at for e in after} == {NOW + DAY}
    complete(open_of(planned, KEY), world.technician, datetime(2026, 7, 1, tzinfo=UTC))
    now = datetime(2026, 7, 1, 12, tzinfo=UTC)
    assert min(e.sequence for e in read(token, now)) >= 1


def test_skipped_work_is_cancelled_for_thirty_days_and_then_gone(world, planned):
    token = make_token(world.owner, 0)
    row = open_of(planned, KEY)
    recurring.skip_occurrence(
        occurrence=row, reason="Bay closed", recorded_by=world.technician, now=NOW
    )
    entries = by_uid(read(token))
    given_up = entries[str(row.uuid)]
    assert given_up.slot.is_cancelled and not given_up.text.has_alarm
    assert given_up.text.summary.startswith("Skipped: ")
    assert len(entries) == 2
    assert str(row.uuid) in by_uid(read(token, NOW + 30 * DAY - timedelta(hours=1)))
    assert str(row.uuid) not in by_uid(read(token, NOW + 30 * DAY))


def test_work_no_longer_asked_for_is_cancelled_and_asked_again_is_another_thing(world, planned):
    token = make_token(world.owner, 0)
    (before,) = read(token)
    edition = planned.site.adopted_editions.get()
    recurring.give_up_edition(adopted=edition, ended_by=world.owner, now=NOW + DAY)
    (gone,) = read(token, NOW + DAY)
    assert (gone.uid, gone.sequence, gone.slot.is_cancelled) == (before.uid, 1, True)
    adopt(world.site, world.owner, now=NOW + 2 * DAY)
    entries = read(token, NOW + 2 * DAY)
    assert sorted(e.slot.is_cancelled for e in entries) == [False, True]
    assert len(by_uid(entries)) == 2


def test_no_two_entries_ever_share_a_name(world, planned):
    """An occurrence that moved forward keeps the name of a day on which the next is due."""
    row = open_of(planned, KEY)
    token = make_token(world.owner, 365)
    interval_later = read(token)[1].slot.starts_at
    Occurrence.objects.filter(pk=row.pk).update(uuid=read(token)[1].uid)
    entries = other_entries(token, NOW)
    assert len(by_uid(entries)) == len(entries)
    assert interval_later in {entry.slot.starts_at for entry in read(token)}


def test_feeds_show_what_the_person_may_see_and_nothing_else(world, planned):
    assert other_entries(make_token(world.stranger), NOW) == []
    assert read(make_token(world.auditor)) and read(make_token(world.technician))
    unserved = make_site(world.owner_organisation, name="South Quay")
    adopt(unserved, world.owner)
    make_system(unserved, world.owner, tag="SQ-1")
    tags = {e.text.summary.rpartition(", ")[2] for e in other_entries(make_token(world.owner), NOW)}
    assert tags == {"NQ-101", "SQ-1"}
    served = make_token(world.owner, scope="contractor", contractor=world.contractor)
    one = make_token(world.owner, scope="site", site=unserved)
    assert {e.text.summary.rpartition(", ")[2] for e in other_entries(served, NOW)} == {"NQ-101"}
    assert {e.text.summary.rpartition(", ")[2] for e in other_entries(one, NOW)} == {"SQ-1"}


def test_the_number_of_questions_does_not_grow_with_the_systems(
    world, planned, django_assert_max_num_queries
):
    for number in range(3):
        make_system(world.site, world.owner, tag=f"NQ-20{number}")
    token = make_token(world.owner, 365)
    other_entries(token, NOW)
    with django_assert_max_num_queries(8):
        assert len(read(token, title="")) > 100


def test_a_reader_is_told_of_a_change_and_of_none(client, world, planned):
    now = timezone.now()
    _, secret = issue_token(
        user=world.owner, label="Mine", scope="person", now=now, holds=("recurring",),
        horizon_days=90, detail="brief", alarm="hour",
    )  # fmt: skip
    address = reverse("scheduling:feed", args=[secret])
    first = client.get(address)
    body = first.content.decode()
    today = now.astimezone(world.site.zone).date()
    day = max(open_of(planned, KEY).due_on, today)
    assert f"DTSTART;VALUE=DATE:{day:%Y%m%d}\r\n" in body
    assert "TRIGGER:PT7H\r\n" in body  # an hour before eight o'clock
    assert "VTIMEZONE" not in body and "LOCATION" not in body
    same = client.get(address, headers={"if-none-match": first["ETag"]})
    assert (same.status_code, same.content) == (304, b"")
    recurring.skip_occurrence(
        occurrence=open_of(planned, KEY), reason="Closed", recorded_by=world.owner, now=now
    )
    changed = client.get(address, headers={"if-none-match": first["ETag"]})
    assert changed.status_code == 200
    assert "STATUS:CANCELLED" in changed.content.decode()


def test_work_taken_back_is_cancelled_and_due_again_under_a_name_of_its_own(world, planned):
    token = make_token(world.owner, 0)
    (before,) = read(token)
    done = complete(open_of(planned, KEY), world.technician, NOW)
    later = NOW + 40 * DAY
    recurring.withdraw_inspection(
        inspection=done, reason="Wrong system", recorded_by=world.owner, now=later
    )
    entries = read(token, later)
    assert [e.uid == before.uid for e in entries if e.slot.is_cancelled] == [True]
    assert len(by_uid(entries)) == 2
