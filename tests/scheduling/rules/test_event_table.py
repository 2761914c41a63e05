"""What each row of the table of the trade raises, written through the services."""

from datetime import timedelta

import pytest
from django.db import transaction

from registry import services
from tests.event_table import PIPES, TABLE
from tests.factories import NOW, make_pipe_run, make_system, manager_of
from tests.scheduling.ledger import accept, restore

DAY = timedelta(days=1)
CONFIRMS = "accepted"
SUPPLIED = {"gas_supply": "generator", "supply_n2_percent": 99.5}


class Undone(Exception):
    """Takes a row's record back, so that the next row begins from the same ledger."""


def inert(pipe: str):
    facts = PIPES[pipe]
    supplied = SUPPLIED if facts.is_gas_filled else {}
    system = make_system(
        kind=pipe,
        volume_override_m3=facts.volume_m3,
        service_pressure_gauge_pa=facts.service_pressure_gauge_pa,
        now=NOW - 9 * DAY,
        **supplied,
    )
    make_pipe_run(system, now=NOW - 9 * DAY)
    accept(system, NOW - 3 * DAY, n2_percent=98.0)
    restore(system, NOW - 2 * DAY)
    return system


def raised(system, row) -> set[str]:
    found: set[str] = set()
    try:
        with transaction.atomic():
            services.record(
                system=system,
                kind=row.definition.code,
                occurred_at=NOW - DAY,
                details=row.answers,
                recorded_by=manager_of(system.site),
                now=NOW,
            )
            found = set(system.tasks.open().values_list("rule", flat=True))
            raise Undone
    except Undone:
        return found - {CONFIRMS}


@pytest.mark.django_db
@pytest.mark.parametrize("pipe", PIPES)
def test_each_row_of_the_table_raises_what_it_says(monkeypatch, pipe):
    """A score bears on the day of an order alone, and takes longer than all the rest."""
    monkeypatch.setattr("registry.services.ledger.follow_ledger", lambda *said: None)
    system = inert(pipe)
    rows = [row for row in TABLE if row.pipe == pipe]
    differs = {
        f"{place} {row}": (row.raises, " ".join(sorted(found)))
        for place, row in enumerate(rows)
        if (found := raised(system, row)) != set(row.raises.split())
    }
    assert not differs
