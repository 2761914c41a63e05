"""sabre/vobject: what a calendar server makes of a feed; validators find nothing to say."""

import pytest
import vobject

from scheduling.models import Task
from tests.readers.tools import read_with_sabre

pytestmark = pytest.mark.django_db


def test_a_feed_of_every_kind_of_entry_with_nasty_texts_has_no_problem(everything, subscribe):
    read = read_with_sabre(subscribe())
    assert read["problems"] == []
    entries = read["entries"]
    summaries = {entry["summary"].partition(":")[0] for entry in entries.values()}
    assert {"Expected", "Done", "Skipped", "Out of service", "Restored", "Withdrawn"} <= summaries
    assert {entry["is_day"] for entry in entries.values()} == {True, False}
    assert {entry["status"] for entry in entries.values()} == {
        "CONFIRMED", "TENTATIVE", "CANCELLED",
    }  # fmt: skip


def test_it_reads_the_instants_that_the_database_says(everything, subscribe):
    entries = read_with_sabre(subscribe())["entries"]
    tasks = Task.objects.all()
    assert [entries[str(task.uuid)]["start"] for task in tasks] == [
        int(task.starts_at.timestamp()) for task in tasks
    ]


def test_the_validator_does_find_problems_where_there_are_any(everything, subscribe):
    """That of Debian 12 (version 2.1) looks at names and encoding; vobject at what is required."""
    broken = subscribe().replace(b"CONFIRMED", b"CONFIRMED\xff")
    assert any("not valid UTF-8" in problem for problem in read_with_sabre(broken)["problems"])


def test_vobject_finds_all_that_each_component_must_have(everything, subscribe):
    feed = subscribe().decode()
    assert vobject.readOne(feed).validate(raiseException=True)
    with pytest.raises(vobject.base.ValidateError, match="DTSTAMP"):
        vobject.readOne(feed.replace("DTSTAMP", "X-STAMP")).validate(raiseException=True)


def test_an_empty_feed_has_no_problem(world, subscribe):
    read = read_with_sabre(subscribe())
    assert read == {"entries": {}, "problems": []}
