"""What a record brings along is what the database would say, and saves asking it."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.assess import end_of, read_books
from registry.models import AtmosphereSpan
from registry.services import record, withdraw
from registry.signals import record_added
from scheduling.follow_ups.standpoint import ledger_of, standpoint
from tests.factories import NOW, make_pipe_run
from tests.scheduling.ledger import DAY, accept, fire, head_break, read

SPAN_FIELDS = [field.attname for field in AtmosphereSpan._meta.concrete_fields]


@pytest.fixture
def heard():
    """What each record brought along."""
    brought = []

    def listen(sender, ledger, **kwargs):
        brought.append(ledger)

    record_added.connect(listen)
    yield brought
    record_added.disconnect(listen)


def corrected(system, owner):
    wrong = fire(system, NOW - 3 * DAY)
    return record(
        system=system, kind="event.fire", occurred_at=NOW - 2 * DAY, details={}, recorded_by=owner,
        supersedes=wrong, now=NOW,
    )  # fmt: skip


def taken_back(system, owner):
    return withdraw(record=head_break(system, NOW - DAY), reason="x", recorded_by=owner, now=NOW)


def plain(system, owner):
    accept(system, NOW - 40 * DAY)
    return read(system, NOW - DAY, 98.3)


@pytest.mark.parametrize("tell", [plain, corrected, taken_back])
def test_what_is_brought_along_is_what_would_be_read(system, world, heard, tell):
    make_pipe_run(system, world.owner)
    tell(system, world.owner)
    brought, asked = heard[-1], ledger_of(system)
    assert [row.pk for row in brought.records] == [row.pk for row in asked.records]
    assert brought.facts == asked.facts
    assert [_values(span) for span in brought.spans] == [_values(span) for span in asked.spans]
    assert standpoint(brought, NOW) == standpoint(asked, NOW)


def _values(span):
    return [getattr(span, name) for name in SPAN_FIELDS]


@pytest.mark.parametrize("day", [NOW, NOW - 30 * DAY], ids=["today", "a month ago"])
@pytest.mark.parametrize("tell", [plain, corrected, taken_back])
def test_an_assessment_begins_from_the_same_rows_either_way(system, world, heard, tell, day):
    make_pipe_run(system, world.owner)
    tell(system, world.owner)
    known_at = end_of(day.date())
    given, read_again = (
        read_books([system.pk], known_at, ledgers)[0] for ledgers in ([heard[-1]], [])
    )
    assert (given.records, given.spans, given.runs, given.facts) == (
        read_again.records, read_again.spans, read_again.runs, read_again.facts
    )  # fmt: skip


def test_only_a_ledger_without_corrections_is_all_in_hand(system, world, heard):
    plain(system, world.owner)
    assert heard[-1].is_whole
    corrected(system, world.owner)
    assert not heard[-1].is_whole


def test_a_longer_ledger_costs_a_record_no_more_statements(system, world):
    make_pipe_run(system, world.owner)
    accept(system, NOW - 40 * DAY)
    counts = []
    for hours in range(6):
        with CaptureQueriesContext(connection) as captured:
            read(system, NOW - DAY + timedelta(hours=hours), 98.2 + hours / 10)
        counts.append(len(captured))
    assert len(set(counts[1:])) == 1
    assert counts[-1] <= 35  # each rule that writes has a savepoint of its own
