"""The schedule x every way to tamper with it by SQL: all are found."""

from datetime import timedelta

import pytest

from registry.models import System
from registry.verifying import differences
from scheduling import recurring
from scheduling.verifying.schedule import asked_of, settled_of
from tests.factories import NOW
from tests.registry.verifying.test_chains import sql
from tests.scheduling.recurring_world import open_of


def found() -> list[str]:
    systems = System.objects.all()
    return [one.what for one in differences(systems, more=[settled_of, asked_of])]


@pytest.fixture
def skipped(book, world):
    recurring.skip_occurrence(
        occurrence=open_of(book.system, "gauges"), reason="Riser room under repair",
        recorded_by=world.owner, now=NOW + timedelta(hours=1),
    )  # fmt: skip
    return book


def test_an_untouched_schedule_holds(skipped):
    assert found() == []


TAMPERINGS = {
    "the schedule is emptied": (
        "UPDATE scheduling_recurringitem SET is_active = false", "does not ask for",
    ),
    "one item rests": (
        "UPDATE scheduling_recurringitem SET is_active = false WHERE key = 'gauges'",
        "does not ask for “Read the gauges”",
    ),
    "an item recurs more rarely": (
        "UPDATE scheduling_recurringitem SET \"interval\" = '9 years' WHERE key = 'gauges'",
        "otherwise than it was decided",
    ),
    "open work is moved": (
        "UPDATE scheduling_occurrence SET due_on = '2031-01-01', closes_on = '2031-01-01' "
        "WHERE status = 'open'", "not on the day that the records give",
    ),
    "open work is deleted": (
        "DELETE FROM scheduling_occurrence WHERE status = 'open' AND record_id IS NULL",
        "not on the day that the records give",
    ),
    "open work is called done": (
        "UPDATE scheduling_occurrence SET status = 'done', settled_at = planned_at "
        "WHERE status = 'open'", "is done, and no record does",
    ),
    "open work is called missed": (
        "UPDATE scheduling_occurrence SET status = 'missed', settled_at = planned_at "
        "WHERE status = 'open'", "not on the day that the records give",
    ),
    "what was done was done in time": (
        "UPDATE scheduling_occurrence SET timing = 'late', days = 9 WHERE status = 'done'",
        "is done, and no record does",
    ),
    "what was done was due another day": (
        "UPDATE scheduling_occurrence SET due_on = '2026-04-01', opens_on = '2026-04-01' "
        "WHERE status = 'done'", "is done, and no record does",
    ),
    "what was skipped was done": (
        "UPDATE scheduling_occurrence SET status = 'done' WHERE status = 'skipped'",
        "is done, and no record does",
    ),
    "what was done is not asked for": (
        "UPDATE scheduling_occurrence SET status = 'withdrawn' WHERE status = 'done'",
        "does not show the work that record",
    ),
    "a condition is answered": (
        "INSERT INTO scheduling_systemanswer (system_id, condition, answer) "
        "SELECT id, 'backflow_fitted', false FROM registry_system",
        "nothing that was decided does",
    ),
    "the edition is given up": (
        "UPDATE scheduling_adoptededition SET ended_at = adopted_at",
        "nothing that was decided does",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TAMPERINGS)
def test_a_schedule_tampered_with_is_found(skipped, name):
    statement, words = TAMPERINGS[name]
    sql(statement)
    assert any(words in what for what in found()), found()


def test_what_was_planned_from_before_this_book_holds(skipped, world):
    item = skipped.system.recurring_items.get(key="main-drain")
    recurring.set_last_done(
        item=item, last_done_on=NOW.date() - timedelta(days=90), now=NOW, changed_by=world.owner
    )
    assert found() == []
    sql("UPDATE scheduling_recurringitem SET last_done_on = '2026-05-30' WHERE id = %s", item.pk)
    assert any("not on the day" in what for what in found())
