"""What depends on the answers of a record: whether it opened the pipe, and what that means."""

from registry.atmosphere import events
from registry.atmosphere.types import LedgerItem, SystemFacts
from registry.kinds.meaning import Protection, Water


def water_after_repair(item: LedgerItem, facts: SystemFacts) -> Water:
    was_opened = item.answer("pipe_opened") != "no" or events.repair(item, facts).lets_air_in
    return Water.OPENS if was_opened else Water.NONE


def water_after_leak(item: LedgerItem, facts: SystemFacts) -> Water:
    kept = events.leak(item, facts).air in ("none", "kept")
    return Water.NONE if kept else Water.OPENS


def protection_after_repair(item: LedgerItem) -> Protection:
    by_answer = {"yes": Protection.IMPAIRED, "no": Protection.NONE}
    return by_answer.get(item.answer("pipe_opened"), Protection.NOT_KNOWN)


def protection_after_return(item: LedgerItem) -> Protection:
    """A no or a “not known” keeps the system impaired."""
    checks = (item.answer("valves_open"), item.answer("notified"))
    return Protection.RESTORED if checks == ("yes", "yes") else Protection.NONE


def protection_after_inspection(item: LedgerItem) -> Protection:
    is_out = item.answer("found") == "impairment"
    return Protection.IMPAIRED if is_out else Protection.NONE
