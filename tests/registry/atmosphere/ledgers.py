"""Short ways to write a ledger down in a test: days count from 1 January 2024, noon UTC."""

from datetime import UTC, datetime, timedelta

from registry.atmosphere import LedgerItem, Policy, SystemFacts, derive
from registry.kinds import KINDS, check_details

START = datetime(2024, 1, 1, 12, tzinfo=UTC)
PSI = 6894.757293168
AIR = 0.2095

WET = SystemFacts("wet", installed_at=START)
DRY = SystemFacts("dry", installed_at=START)
CYLINDERS = SystemFacts("dry", "cylinders", 99.9, installed_at=START)
GENERATOR = SystemFacts("dry", "generator", 99.0, installed_at=START)
COMPRESSOR = SystemFacts("preaction", "compressor", installed_at=START)

UNREAD = Policy(confirming_days=(), repeat_days=0, stale_days=1e5)
"""A policy that never asks for a reading, where a test is about something else."""


def day(number: float) -> datetime:
    return START + timedelta(days=number)


def item(kind: str, at: float, number: int = 0, /, **details) -> LedgerItem:
    """A record as the ledger would take it: its details are held against the table of kinds."""
    checked = check_details(KINDS[kind], details)
    number = number or round(at * 100) + 1
    return LedgerItem(number, number, kind, day(at), checked)


def accepted(at: float, n2: float = 98.6, target: float = 98.0, number: int = 0) -> LedgerItem:
    return item("inerting.accepted", at, number, fill=3, n2_percent=n2, target_n2_percent=target)


def started(at: float, n2: float = 79.05, feed: float = 100.0) -> LedgerItem:
    return item(
        "inerting.started",
        at,
        start_n2_percent=n2,
        feed_n2_percent=feed,
        target_n2_percent=98.0,
        fill_gauge_pa=30 * PSI,
    )


def reading(at: float, n2: float, number: int = 0) -> LedgerItem:
    return item("reading.gas", at, number, n2_percent=n2)


def head_break(at: float, number: int = 0) -> LedgerItem:
    return item("event.head_break", at, number, count=1)


def drain_down(at: float, number: int = 0, /, **answers) -> LedgerItem:
    """A drain-down by the book, but for the answers given."""
    steps = (
        "nitrogen_before_opening",
        "regulator_above_system",
        "flow_until_empty",
        "one_drain_at_a_time",
    )
    details = dict.fromkeys(steps, "yes") | {"extent": "whole"} | answers
    return item("event.drain_down", at, number, **details)


def story(facts, *items, until: float = 30.0):
    """The states in order, with the day each began, neighbours in one state as one."""
    told = []
    for span in derive(facts, items, day(until)):
        began = round((span.starts_at - START) / timedelta(days=1), 2)
        if not told or told[-1][1] != span.state:
            told.append((began, span.state))
    return told


def last(facts, *items, until: float = 30.0):
    return derive(facts, items, day(until))[-1]


def at_end(facts, *items):
    """The span that the last record leaves behind."""
    return derive(facts, items, max(entry.occurred_at for entry in items))[-1]
