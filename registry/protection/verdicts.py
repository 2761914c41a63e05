"""What each record says of protection, judged from its own answers.

Common practice, no source, unless given. Planned or emergency after NFPA 25 15.6.1, restated by a
college's safety office: planned ahead, or found and unplanned.
"""

from dataclasses import replace

from registry.atmosphere.types import LedgerItem
from registry.protection import safety
from registry.protection.restoration import verdict as restoration
from registry.protection.types import ALL, NOTHING, OWN, Verdict

FOUND = "an impairment"
PLANNED, EMERGENCY = "planned", "emergency"


def _begins(item: LedgerItem, code: str, reason: str, by_nature: str = "") -> Verdict:
    """`by_nature`: whether all of its kind are planned, or none; else its own answer says it."""
    areas = str(item.details.get("areas") or "")
    answers = safety.answers_of(item.details, by_nature)
    return Verdict("begins", code, reason, areas=areas, answers=answers)


def drain_down(item: LedgerItem) -> Verdict:
    is_part = item.answer("extent") == "part"
    what = "Part of the system was drained" if is_part else "The system was drained"
    return _begins(item, "drain_down", f"{what}.")


def trip(item: LedgerItem) -> Verdict:
    by_cause = {"test": PLANNED, "unknown": ""}.get(item.answer("cause"), EMERGENCY)
    reason = "The valve tripped and must be set again before it can trip once more."
    return _begins(item, "trip", reason, by_cause)


def head_break(item: LedgerItem) -> Verdict:
    return _begins(item, "head_break", "A sprinkler opened or was knocked off.", EMERGENCY)


def fire(item: LedgerItem) -> Verdict:
    return _begins(item, "fire", "The system operated in a fire; sprinklers are spent.", EMERGENCY)


def leak(item: LedgerItem) -> Verdict:
    return _as_answered(item, "leak", "A leak, for which protection was taken out of service.")


def freeze(item: LedgerItem) -> Verdict:
    """Frozen pipe carries no water: an emergency impairment in NFPA 25 15.6.1 (restated)."""
    found = item.answer("found")
    if found == "burst":
        return _begins(item, "freeze", "Pipe froze and burst.", EMERGENCY)
    if found == "frozen":
        return _begins(
            item, "freeze", "Water froze in the pipe: nothing can flow past it.", EMERGENCY
        )
    return Verdict("doubts", "freeze", "Pipe may have frozen: whether water can flow is not known.")


def _as_answered(item: LedgerItem, code: str, reason: str) -> Verdict:
    """By the question of the same form, whether protection is out of service."""
    answer = item.answer("out_of_service")
    if answer == "yes":
        return _begins(item, code, reason, EMERGENCY)
    if answer == "no":
        return NOTHING
    doubt = "It is not known whether protection was taken out of service for it."
    return Verdict("doubts", code, f"{reason.partition(',')[0]}. {doubt}")


def repair(item: LedgerItem) -> Verdict:
    opened = item.answer("pipe_opened")
    if opened == "yes":
        return _begins(item, "repair", "Pipe was opened for work.")
    if opened == "no":
        return NOTHING
    return Verdict("doubts", "repair", "Work on the system: whether pipe was opened is not known.")


def hydrostatic_test(item: LedgerItem) -> Verdict:
    return _begins(item, "hydrostatic_test", "Under test pressure with water.", PLANNED)


def pneumatic_test(item: LedgerItem) -> Verdict:
    return _begins(item, "pneumatic_test", "Under test pressure with gas.", PLANNED)


def antifreeze_exchange(item: LedgerItem) -> Verdict:
    return _begins(item, "antifreeze", "Drained to exchange the solution.", PLANNED)


def flushing(item: LedgerItem) -> Verdict:
    return _begins(item, "flushing", "Opened at its ends and flushed.")


def head_replaced(item: LedgerItem) -> Verdict:
    return _begins(item, "head_replaced", "Opened to replace a sprinkler.")


def valve_opened(item: LedgerItem) -> Verdict:
    return _begins(item, "valve_opened", "Its valve was opened for inspection.")


def drum_drip(item: LedgerItem) -> Verdict:
    """Both valves open let the gas out, and gas holds the dry valve shut."""
    if item.answer("both_open") == "no":
        return NOTHING
    reason = "A low point was drained: whether the gas still holds the valve is not known."
    return Verdict("doubts", "drum_drip", reason)


def vent_work(item: LedgerItem) -> Verdict:
    """Swapped behind its own valve it touches nothing; drained for it, the system is out."""
    if item.answer("isolated") == "yes":
        return NOTHING
    if item.answer("isolated") == "no":
        return _begins(item, "vent_work", "Drained to work on a vent.", PLANNED)
    return Verdict("doubts", "vent_work", "Whether pipe was drained for a vent is not known.")


def valve_closed(item: LedgerItem) -> Verdict:
    valve = str(item.details.get("valve") or "")
    name = f" ({valve})" if valve else ""
    return _begins(item, "valve_closed", f"A control valve is closed{name}.")


def gas_loss(item: LedgerItem) -> Verdict:
    reason = "Gas pressure was lost: whether the valve holds, or will trip, is not known."
    return Verdict("doubts", "gas_loss", reason)


def valve_leaks_through(item: LedgerItem) -> Verdict:
    reason = "Water leaks past the valve: whether it would still trip in time is not known."
    return Verdict("doubts", "valve_leaks_through", reason)


def impairment_start(item: LedgerItem) -> Verdict:
    """Not said to be planned, it counts as an emergency."""
    reason = str(item.details.get("reason") or "Taken out of service").rstrip(".") + "."
    return replace(_begins(item, "impairment", reason), has_tag=True)


def impairment_answers(item: LedgerItem) -> Verdict:
    """What was left open when it began, for the outage that it names or for all that are open."""
    which = str(item.details.get("of") or "")
    return Verdict("answers", answers=safety.answers_of(item.details), ends=which)


def impairment_end(item: LedgerItem) -> Verdict:
    return restoration(item.details, ends=str(item.details.get("ends") or ""))


def run_started(item: LedgerItem) -> Verdict:
    return _begins(item, "run", "Drained for an inerting run.", PLANNED)


def run_returned(item: LedgerItem) -> Verdict:
    ends = ALL if item.details.get("ends") == ALL else OWN
    return restoration(item.details, ends=ends)


def run_stopped(item: LedgerItem) -> Verdict:
    left = str(item.details.get("left_as") or "").rstrip(".")
    reason = f"The inerting run was stopped. Left as: {left}." if left else "Run stopped."
    return Verdict("goes_on", "run_stopped", reason)


def inspection(item: LedgerItem) -> Verdict:
    """A drain test with its two pressures and nothing wrong tests the supply and its valves."""
    found = item.answer("found")
    if found == "impairment":
        said = str(item.details.get("impairments") or "").rstrip(".")
        return _begins(item, "inspection", f"An inspection found: {said or FOUND}.", EMERGENCY)
    has_drain_test = {"static_gauge_pa", "residual_gauge_pa"} <= item.details.keys()
    if found in ("none", "noncritical") and has_drain_test:
        return Verdict("shows", "drain_test", "A drain test at this riser found the supply open.")
    return NOTHING


def told(item: LedgerItem) -> Verdict:
    reason = "Told at the sign and not confirmed: whether the sprinklers would work is not known."
    return Verdict("doubts", "told", reason)
