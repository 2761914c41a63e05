"""The table of the trade in `tests.event_table`, held against gas and protection, row by row."""

import json
from dataclasses import replace
from functools import cache
from typing import NamedTuple

import pytest

from registry.atmosphere import derive as derive_gas
from registry.kinds import KINDS, Field
from registry.protection import derive as derive_protection
from scheduling.rules import RULES
from tests.event_table import PIPES, TABLE, Row, partial_trip
from tests.registry.atmosphere.ledgers import START, accepted, day, item
from tests.registry.kinds.every_answer import values
from tests.restoration import RESTORED
from tests.scheduling.rules.findings_asked import rules_that_ask


def told(row: Row):
    """The span of the gas and that of protection after the record of a row."""
    facts = PIPES[row.pipe]
    stated = item("event.impairment_end", 2, **RESTORED)
    items = [accepted(1, n2=98.0), stated, item(row.definition.code, 3, **row.answers)]
    gas = derive_gas(facts, items, day(3.01))[-1]
    return gas, derive_protection(facts.installed_at, items)[-1]


class Outcome(NamedTuple):
    state: str
    protection: str
    asked: frozenset[str]

    @property
    def facts(self) -> set[tuple[str, str]]:
        """Each by itself; what a rule on single records does not ask is one as well."""
        silent = {rule.code for rule in RULES} - self.asked
        return {
            ("state", self.state),
            ("protection", self.protection),
            *(("asks", code) for code in self.asked),
            *(("asks not", code) for code in silent),
        }

    def moved_from(self, before: "Outcome") -> set[tuple[str, str]]:
        return self.facts - before.facts


@cache
def _outcome(kind: str, pipe: str, answers: str) -> Outcome:
    row = Row(kind, pipe, json.loads(answers), "", "", "")
    gas, protection = told(row)
    asked = rules_that_ask(row.definition.code, row.answers, START)
    return Outcome(gas.state, protection.state, asked)


def outcome(row: Row) -> Outcome:
    return _outcome(row.kind, row.pipe, json.dumps(row.answers, sort_keys=True))


@pytest.mark.parametrize("row", TABLE, ids=str)
def test_a_row_of_the_table(row):
    gas, protection = told(row)
    assert (gas.state, row.reason in gas.reason) == (row.state, True), gas.reason
    assert protection.state == row.protection


def test_every_kind_of_event_is_in_the_table():
    assert {row.definition.code for row in TABLE} == {
        code for code in KINDS if code.startswith("event.")
    }


@pytest.mark.parametrize("row", TABLE, ids=str)
def test_every_answer_that_changes_what_follows_has_a_row(row):
    """Where another answer to one question moves the gas, protection or a rule, some row of this
    kind gives that answer and says as much."""
    before = outcome(row)
    for field in row.definition.fields:
        for value in values(field):
            after = outcome(row._replace(answers=row.answers | {field.name: value}))
            said = {fact for other in rows_that_give(row, field, value) for fact in other.facts}
            assert after.moved_from(before) <= said, f"{field.name} = {value}"


def rows_that_give(row: Row, field: Field, value) -> list[Outcome]:
    is_choice = field.type in ("choice", "tri")
    return [
        outcome(other)
        for other in TABLE
        if (other.kind, other.pipe) == (row.kind, row.pipe)
        and field.name in other.answers
        and (other.answers[field.name] == value or not is_choice)
    ]


# Absolute pressures, 40 psig over 14.7 psi: (2 + s (20.95 - 2)) x 14.7 / 54.7, pure nitrogen in.
@pytest.mark.parametrize(("drained_m3", "oxygen_percent"), [(0.05, 0.66), (0.2, 1.05)])
def test_the_recharge_after_a_partial_trip_dilutes_what_came_in(drained_m3, oxygen_percent):
    facts = replace(PIPES["dry"], service_pressure_gauge_pa=40 * 6894.757, supply_n2_percent=100.0)
    answers = partial_trip(drained_m3=drained_m3, recharge="nitrogen")
    trip = item("event.trip", 1.001, **answers)
    span = derive_gas(facts, [accepted(1, n2=98.0), trip], day(1.002))[-1]
    assert 100 * span.oxygen_mid == pytest.approx(oxygen_percent, abs=0.03)
