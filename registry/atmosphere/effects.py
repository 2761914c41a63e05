"""What one record did to the atmosphere, in a few words for the page that shows it."""

from dataclasses import dataclass

from registry.atmosphere.types import AERATED, IN_DOUBT, INERT, Condition, LedgerItem


@dataclass(frozen=True, slots=True)
class Effect:
    """`code` is one of none, kept, made_inert, doubt, let_air_in, estimate, supply."""

    code: str
    text: str
    oxygen_before: float
    oxygen_after: float


TURNED = {
    INERT: ("made_inert", "Made it inert."),
    IN_DOUBT: ("doubt", "Put it in doubt."),
    AERATED: ("let_air_in", "Aerated it."),
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
        return TURNED[after.state]
    if after.feed != before.feed and after.oxygen == before.oxygen:
        return "supply", "Changed what makes up the gas."
    if shown(before) != shown(after):
        return "estimate", _estimate(before, after)
    if after.cause_id == item.id and after.state == INERT:
        return "kept", "Kept it inert."
    return "none", UNCHANGED[after.state]


def shown(condition: Condition) -> str:
    return f"{100 * condition.oxygen.mid:.1f} %"


def _estimate(before: Condition, after: Condition) -> str:
    verb = "Raised" if after.oxygen.mid > before.oxygen.mid else "Lowered"
    percents = f"from {shown(before)} to {shown(after)}"
    return f"{UNCHANGED[after.state]} {verb} the oxygen estimate {percents}."
