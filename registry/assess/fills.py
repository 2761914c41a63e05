"""When water-filled pipe was filled, and with what gas left in it, from the records of a ledger.

A fill is rarely written down as such: most follow from something that emptied the pipe. An opening
without a fill on record is taken to have been filled again the same day, unless another opening
followed within three days, which then belongs to the same outage.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from registry.assess.clock import YEAR
from registry.assess.stretches import Stretch, oxygen_at
from registry.atmosphere import LedgerItem, SystemFacts, breach

SAME_OUTAGE = timedelta(days=3)
STARTED = "inerting.started"
ALWAYS_OPENS = ("event.drain_down", "event.head_break", "event.fire", STARTED)
ENDS_OUTAGE = ("inerting.water_filled", "inerting.returned", "inerting.stopped")
MG_L = 1e-3  # kg/m3; by definition of the litre


@dataclass(frozen=True, slots=True)
class Fill:
    """`cause_id` is the record that made it necessary; None for a fill that is only assumed."""

    at: datetime
    oxygen: float
    cause_id: int | None
    dissolved_kg_m3: float | None = None


def fills_of(
    facts: SystemFacts, items: Iterable[LedgerItem], spans: Sequence[Stretch]
) -> list[Fill]:
    """Fills on record, oldest first, each with the gas the atmosphere then held."""

    def fill(at: datetime, cause: LedgerItem, water: LedgerItem | None) -> Fill:
        dissolved = water.number("dissolved_oxygen_mg_l") if water else None
        oxygen = oxygen_at(spans, facts, at)
        return Fill(at, oxygen, cause.id, None if dissolved is None else MG_L * dissolved)

    return [fill(*found) for found in _outages(facts, items)]


def _outages(
    facts: SystemFacts, items: Iterable[LedgerItem]
) -> Iterator[tuple[datetime, LedgerItem, LedgerItem | None]]:
    """When each outage ended, what opened the pipe first, and the record of the fill, if any."""
    opened: list[LedgerItem] = []
    for item in items:
        if opens(item, facts):
            if _was_refilled_before(opened, item):
                yield opened[-1].occurred_at, opened[0], None
                opened = []
            opened.append(item)
        elif item.kind == "event.water_fill" or (opened and item.kind in ENDS_OUTAGE):
            yield item.occurred_at, (opened or [item])[0], item
            opened = []
    if opened and opened[-1].kind != STARTED:
        yield opened[-1].occurred_at, opened[0], None


def _was_refilled_before(opened: Sequence[LedgerItem], item: LedgerItem) -> bool:
    if not opened or opened[-1].kind == STARTED:
        return False
    return item.occurred_at - opened[-1].occurred_at > SAME_OUTAGE


def opens(item: LedgerItem, facts: SystemFacts) -> bool:
    """Whether it emptied water-filled pipe, or part of it."""
    if item.kind == "event.repair":
        return item.answer("pipe_opened") != "no" or breach(item, facts).lets_air_in
    if item.kind == "event.leak":
        return breach(item, facts).air not in ("none", "kept")
    return item.kind in ALWAYS_OPENS


def assumed_fills(first: datetime, began: datetime, per_year: float, oxygen: float) -> list[Fill]:
    """Fills nobody wrote down, between the oldest one on record and the day the register began.

    They come on top of those on record, so that entering an old event never lowers a score.
    """
    count = math.ceil(per_year * (began - first) / YEAR) if first < began else 0
    step = (began - first) / max(count, 1)
    return [Fill(first + (number + 0.5) * step, oxygen, None) for number in range(count)]
