"""What makes up the gas of a system, and when that changed."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from registry.atmosphere.types import Condition, Feed, LedgerItem, SystemFacts

AMENDED = "register.amended"
MAKEUP = "event.air_makeup"
DELUGE = "deluge"


def usual_feed(facts: SystemFacts) -> Feed:
    return Feed(facts.gas_supply, facts.supply_n2_percent)


def first_feed(facts: SystemFacts, amendments: Sequence[LedgerItem]) -> Feed:
    """The supply before the first amendment: today's facts, taken back one change at a time.

    A fact filled in for the first time is taken to have been true before it was written down.
    """
    feed = usual_feed(facts)
    for item in reversed(amendments):
        earlier = _side(item, "from", feed)
        feed = Feed(
            feed.kind if earlier.kind == "unknown" else earlier.kind,
            feed.n2_percent if earlier.n2_percent is None else earlier.n2_percent,
        )
    return feed


def after_amendment(condition: Condition, item: LedgerItem) -> Condition:
    return replace(condition, feed=_side(item, "to", condition.feed))


def after_makeup(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    feed = feed_after_makeup(condition.feed, item, facts)
    return condition if feed == condition.feed else replace(condition, feed=feed)


def feed_after_makeup(feed: Feed, item: LedgerItem, facts: SystemFacts) -> Feed:
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
    first = first_feed(facts, [item for item in items if item.kind == AMENDED])
    found: list[tuple[datetime | None, Feed]] = [(None, first)]
    for item in items:
        feed = found[-1][1]
        if item.kind == AMENDED:
            later = _side(item, "to", feed)
        elif item.kind == MAKEUP:
            later = feed_after_makeup(feed, item, facts)
        else:
            continue
        if later != feed and facts.kind != DELUGE:
            found.append((item.occurred_at, later))
    return found


def _side(item: LedgerItem, side: str, otherwise: Feed) -> Feed:
    """The supply on one side of an amendment, which holds only the facts that changed."""
    kind = item.details.get("gas_supply", {side: otherwise.kind})
    n2 = item.details.get("supply_n2_percent", {side: otherwise.n2_percent})
    return Feed(kind[side], n2[side])
