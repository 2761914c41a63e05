"""What one record did to the atmosphere, in a few words for the page that shows it."""

from dataclasses import dataclass

from registry.atmosphere.gas_effects import effect_of_kind
from registry.atmosphere.types import AERATED, IN_DOUBT, INERT, Condition, LedgerItem


@dataclass(frozen=True, slots=True)
class Effect:
    """`code` is one of made_inert, doubt, aerated, kept, estimate, supply, none."""

    code: str
    text: str
    oxygen_before: float
    oxygen_after: float


TURNED = {
    INERT: ("made_inert", "Made it inert."),
    IN_DOUBT: ("doubt", "Put it in doubt."),
    AERATED: ("aerated", "Let air in: aerated."),
}
TURNED_BY_READING = {
    INERT: ("made_inert", "Cleared the doubt: inert."),
    IN_DOUBT: ("doubt", "Put it in doubt."),
    AERATED: ("aerated", "Showed air in the pipe: aerated."),
}
UNCHANGED = {
    INERT: "Still inert.",
    IN_DOUBT: "Still in doubt.",
    AERATED: "Aerated before and after.",
}


def effect(item: LedgerItem, before: Condition, after: Condition) -> Effect:
    """`before` is the condition just before the record, its drift included."""
    code, text = _words(item, before, after)
    return Effect(code, text, before.oxygen.mid, after.oxygen.mid)


def _words(item: LedgerItem, before: Condition, after: Condition) -> tuple[str, str]:
    if after.state != before.state:
        return _turned(item, before, after)
    if after.feed != before.feed and after.oxygen == before.oxygen:
        return "supply", "Changed what makes up the gas."
    if _shown(before) != _shown(after):
        return "estimate", _estimate(before, after)
    if after.cause_id == item.id and after.state == INERT:
        return "kept", "Kept it inert."
    return "none", UNCHANGED[after.state]


def _turned(item: LedgerItem, before: Condition, after: Condition) -> tuple[str, str]:
    gas = effect_of_kind(item.kind)
    if gas.turned:
        return gas.turned
    if before.state == AERATED and after.state == IN_DOUBT:
        return "doubt", "No longer aerated for certain: another reading decides."
    return (TURNED_BY_READING if gas.is_reading else TURNED)[after.state]


def _shown(condition: Condition) -> str:
    return f"{100 * condition.oxygen.mid:.1f} %"


def _estimate(before: Condition, after: Condition) -> str:
    verb = "Raised" if after.oxygen.mid > before.oxygen.mid else "Lowered"
    percents = f"from {_shown(before)} to {_shown(after)}"
    return f"{UNCHANGED[after.state]} {verb} the oxygen estimate {percents}."
