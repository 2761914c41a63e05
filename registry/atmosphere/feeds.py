"""What makes up the gas of a system, and when that changed."""

from collections.abc import Sequence
from datetime import datetime

from registry.atmosphere.gas_effects import effect_of_kind
from registry.atmosphere.types import Feed, LedgerItem, SystemFacts

DELUGE = "deluge"


def usual_feed(facts: SystemFacts) -> Feed:
    return Feed(facts.gas_supply, facts.supply_n2_percent)


def first_feed(facts: SystemFacts, items: Sequence[LedgerItem]) -> Feed:
    """The supply before the first amendment: today's facts, taken back one change at a time.

    A fact filled in for the first time is taken to have been true before it was written down.
    """
    feed = usual_feed(facts)
    for item in reversed(items):
        if not effect_of_kind(item.kind).tells_former_feed:
            continue
        earlier = _side(item, "from", feed)
        feed = Feed(
            feed.kind if earlier.kind == "unknown" else earlier.kind,
            feed.n2_percent if earlier.n2_percent is None else earlier.n2_percent,
        )
    return feed


def after_amendment(feed: Feed, item: LedgerItem, facts: SystemFacts) -> Feed:
    return _side(item, "to", feed)


def after_makeup(feed: Feed, item: LedgerItem, facts: SystemFacts) -> Feed:
    """A compressor left connected goes on making up air; shut off, the usual supply takes over."""
    compressor = item.answer("now")
    if compressor == "on":
        return Feed("compressor")
    if compressor == "off" and feed.kind == "compressor":
        usual = usual_feed(facts)
        return Feed("none") if usual.kind == "compressor" else usual
    return feed


def feeds_over_time(
    facts: SystemFacts, items: Sequence[LedgerItem]
) -> list[tuple[datetime | None, Feed]]:
    """The supply from the start (None) and from each record that changed it, oldest first.

    `items` come in order. It is what `derive` carries along, without deriving anything else.
    """
    found: list[tuple[datetime | None, Feed]] = [(None, first_feed(facts, items))]
    for item in items:
        change = effect_of_kind(item.kind).feed
        if change is None or facts.kind == DELUGE:
            continue
        feed = found[-1][1]
        later = change(feed, item, facts)
        if later != feed:
            found.append((item.occurred_at, later))
    return found


def _side(item: LedgerItem, side: str, otherwise: Feed) -> Feed:
    """The supply on one side of an amendment, which holds only the facts that changed."""
    kind = item.details.get("gas_supply", {side: otherwise.kind})
    n2 = item.details.get("supply_n2_percent", {side: otherwise.n2_percent})
    return Feed(kind[side], n2[side])
