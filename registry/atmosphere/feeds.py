"""What makes up the gas of a system, and when that changed."""

from collections.abc import Sequence
from dataclasses import replace

from registry.atmosphere.types import Condition, Feed, LedgerItem, SystemFacts

AMENDED = "register.amended"


def usual_feed(facts: SystemFacts) -> Feed:
    return Feed(facts.gas_supply, facts.supply_n2_percent)


def first_feed(facts: SystemFacts, amendments: Sequence[LedgerItem]) -> Feed:
    """The supply before the first amendment: today's facts, taken back one change at a time.

    A fact filled in for the first time is taken to have been true before it was written down.
    """
    kind, n2 = facts.gas_supply, facts.supply_n2_percent
    for item in reversed(amendments):
        earlier_kind, earlier_n2 = _side(item, "from")
        kind = earlier_kind if earlier_kind not in (None, "unknown") else kind
        n2 = earlier_n2 if earlier_n2 is not None else n2
    return Feed(kind, n2)


def after_amendment(condition: Condition, item: LedgerItem) -> Condition:
    kind, n2 = _side(item, "to")
    feed = condition.feed
    return replace(condition, feed=Feed(kind or feed.kind, feed.n2_percent if n2 is None else n2))


def after_makeup(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    """A compressor left connected goes on making up air; shut off, the usual supply takes over."""
    compressor = item.answer("now")
    if compressor == "on":
        return replace(condition, feed=Feed("compressor"))
    if compressor == "off" and condition.feed.kind == "compressor":
        usual = usual_feed(facts)
        return replace(condition, feed=Feed("none") if usual.kind == "compressor" else usual)
    return condition


def _side(item: LedgerItem, side: str) -> tuple[str | None, float | None]:
    """The supply and its purity on one side of an amendment; None where it did not change."""
    kind, n2 = (
        (item.details.get(name) or {}).get(side) for name in ("gas_supply", "supply_n2_percent")
    )
    return kind, n2
