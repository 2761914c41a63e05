"""khal: a person's calendar after the feed was fetched again."""

from datetime import timedelta

import pytest

from registry import services as registry
from scheduling import recurring
from tests.factories import make_record
from tests.readers.conftest import place, subscription
from tests.readers.tools import Khal
from tests.restoration import RESTORED
from tests.scheduling.orders_world import book

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def khal(tmp_path):
    return Khal(tmp_path, "Europe/London")


@pytest.fixture
def show(world, khal, now):
    """What is shown after fetching, by name of the entry; of what is planned, to be quick."""
    fetch = subscription(world.owner, horizon_days=0)

    def fetched():
        khal.fetch(fetch())
        return khal.agenda(f"{now.date() - 3 * DAY}", 400)

    return fetched


def test_a_moved_follow_up_is_shown_once_at_its_new_time(everything, show, now):
    order = everything.orders["NQ-1"]
    uid = str(order.uuid)
    for day, hour in ((now.date() + 5 * DAY, 8), (now.date() + 6 * DAY, 10)):
        place(order, day, hour)
        shown = show()[uid]
        assert shown[:3] == [f"{day}", f"{hour:02d}:00", f"{hour + 8}:00"]
        assert shown[4] == ""


def test_a_booking_by_the_contractor_moves_the_entry(world, everything, show, now):
    order = everything.orders["NQ-1"]
    before = show()[str(order.uuid)]
    starts_at = (now + 3 * DAY).astimezone(order.zone).replace(hour=9, minute=0, second=0)
    book(order, world.technician, starts_at, now=now, hours=2)
    after = show()[str(order.uuid)]
    assert after[:3] == [f"{starts_at.date()}", "09:00", "11:00"] != before[:3]


def test_a_cancelled_follow_up_is_marked_so_after_the_second_fetch(world, everything, show, now):
    order = everything.orders["NQ-2; a,b"]
    before = show()[str(order.uuid)]
    registry.withdraw(record=order.cause, reason="Wrong", recorded_by=world.owner, now=now)
    after = show()[str(order.uuid)]
    assert (before[4], after[4]) == ("", "CANCELLED")
    assert after[3] == "Withdrawn: Re-inerting order, NQ-2; a,b"


def test_recurring_work_moves_and_is_given_up_as_whole_days(world, everything, show, now):
    system = everything.systems["NQ-1"]
    row = system.occurrences.open().get(item__key="control-valve-travel")
    before = show()[str(row.uuid)]
    assert before[:3] == [f"{row.due_on}", "", ""]
    recurring.set_last_done(item=row.item, last_done_on=(now - 20 * DAY).date(), now=now + HOUR)
    row.refresh_from_db()
    moved = show()[str(row.uuid)]
    assert moved[:3] == [f"{row.due_on}", "", ""] != before[:3]
    recurring.skip_occurrence(
        occurrence=row, reason="Closed", recorded_by=world.owner, now=now + 2 * HOUR
    )
    assert show()[str(row.uuid)][4] == "CANCELLED"


def test_an_impairment_is_shown_to_its_end_after_the_second_fetch(world, everything, show, now):
    out = "Out of service: NQ-1"
    shown = [words for words in show().values() if words[3] == out]
    assert shown
    make_record(
        everything.systems["NQ-1"], "event.impairment_end", now - 29 * HOUR, now=now,
        **RESTORED,
    )  # fmt: skip
    told = [words for words in show().values() if words[3] in (out, "Restored: NQ-1")]
    assert len(told) == len(shown)
    assert "Restored: NQ-1" in [words[3] for words in told]
