"""What depends on the answers of a record: whether it opened the pipe, and what that means."""

from registry.atmosphere import events
from registry.atmosphere.types import LedgerItem, SystemFacts
from registry.kinds.meaning import Water


def water_after_repair(item: LedgerItem, facts: SystemFacts) -> Water:
    was_opened = item.answer("pipe_opened") != "no" or events.repair(item, facts).lets_air_in
    return Water.OPENS if was_opened else Water.NONE


def water_after_leak(item: LedgerItem, facts: SystemFacts) -> Water:
    kept = events.leak(item, facts).air in ("none", "kept")
    return Water.NONE if kept else Water.OPENS


def water_after_freeze(item: LedgerItem, facts: SystemFacts) -> Water:
    return Water.NONE if item.answer("found") == "frozen" else Water.OPENS


def flows_where_measured(item: LedgerItem, facts: SystemFacts) -> Water:
    """What nobody measured adds no water: the usual amount is that of a test, and far more."""
    return Water.FLOWS if item.number("water_m3") else Water.NONE
