"""libical: what desktop calendars make of a feed; it finds no error and reads what is stored."""

from datetime import UTC, datetime, timedelta

import pytest

from scheduling.models import Occurrence, Task
from tests.readers.conftest import next_change
from tests.readers.tools import build_libical_reader, read_with_libical
from tests.scheduling.orders_world import make_crew

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    return build_libical_reader(tmp_path_factory.mktemp("libical"))


@pytest.fixture
def read(program, subscribe):
    return lambda: read_with_libical(program, subscribe())


def test_every_kind_of_entry_is_read_without_an_error(everything, read):
    entries, errors = read()
    assert errors == 0
    tasks = Task.objects.all()
    assert [entries[str(task.uuid)]["start"] for task in tasks] == [
        int(task.starts_at.timestamp()) for task in tasks
    ]
    assert {entry["status"] for entry in entries.values()} == {
        "CONFIRMED", "TENTATIVE", "CANCELLED",
    }  # fmt: skip
    assert all(entries[str(row.uuid)]["is_day"] for row in Occurrence.objects.all())


def test_the_errors_it_counts_are_there_where_something_is_wrong(everything, program, subscribe):
    for right, wrong in ((b"SEQUENCE:0", b"BOGUS LINE"), (b"PRIORITY:2", b"STATUS:CONFIRMED")):
        broken = subscribe().replace(right, wrong)
        assert read_with_libical(program, broken)[1] > 0


def test_a_booked_crew_is_busy_and_a_proposed_time_tentative(everything, read, world):
    order = everything.orders["NQ-1"]
    Task.objects.filter(pk=order.pk).update(work_state="booked", crew=make_crew(world.contractor))
    entries, _ = read()
    booked, offered = (entries[str(everything.orders[tag].uuid)] for tag in ("NQ-1", "FS-1"))
    assert (booked["status"], booked["transp"]) == ("CONFIRMED", "OPAQUE")
    assert (offered["status"], offered["transp"]) == ("TENTATIVE", "TRANSPARENT")


@pytest.mark.parametrize("tag", ["NQ-1", "FS-1"])
@pytest.mark.parametrize("minutes", range(-90, 121, 30))
def test_around_the_hour_that_comes_twice_the_instant_is_the_one_stored(
    everything, read, now, tag, minutes
):
    """By the reader's own reading of the zone, from before the change to after it."""
    order = everything.orders[tag]
    change = next_change(order.time_zone, now.date())
    at = datetime.combine(change, datetime.min.time(), tzinfo=order.zone).astimezone(UTC)
    starts_at = at + timedelta(hours=2, minutes=minutes)
    Task.objects.filter(pk=order.pk).update(starts_at=starts_at, ends_at=starts_at + 3 * HOUR)
    entries, errors = read()
    entry = entries[str(order.uuid)]
    assert (entry["start"], entry["end"]) == (
        int(starts_at.timestamp()), int((starts_at + 3 * HOUR).timestamp()),
    )  # fmt: skip
    assert errors == 0
