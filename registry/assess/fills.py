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
from registry.atmosphere import LedgerItem, SystemFacts
from registry.kinds import KINDS
from registry.kinds.meaning import Water

SAME_OUTAGE = timedelta(days=3)
LETS_WATER_OUT = (Water.EMPTIES, Water.OPENS, Water.EMPTIES_FOR_RUN)
ENDS_OUTAGE = (Water.REFILLS_AFTER_RUN, Water.LEAVES_AFTER_RUN)
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
        water = KINDS[item.kind].water_of(item, facts)
        if water in LETS_WATER_OUT:
            if _was_refilled_before(opened, item):
                yield opened[-1].occurred_at, opened[0], None
                opened = []
            opened.append(item)
        elif water is Water.FILLS or (opened and water in ENDS_OUTAGE):
            yield item.occurred_at, (opened or [item])[0], item
            opened = []
    if opened and not _is_under_way(opened):
        yield opened[-1].occurred_at, opened[0], None


def _was_refilled_before(opened: Sequence[LedgerItem], item: LedgerItem) -> bool:
    if not opened or _is_under_way(opened):
        return False
    return item.occurred_at - opened[-1].occurred_at > SAME_OUTAGE


def _is_under_way(opened: Sequence[LedgerItem]) -> bool:
    """A run keeps the pipe empty until a step of its own ends it."""
    return KINDS[opened[-1].kind].water is Water.EMPTIES_FOR_RUN


def assumed_fills(first: datetime, began: datetime, per_year: float, oxygen: float) -> list[Fill]:
    """Fills nobody wrote down, between the oldest one on record and the day the register began.

    They come on top of those on record, so that entering an old event never lowers a score.
    """
    count = math.ceil(per_year * (began - first) / YEAR) if first < began else 0
    step = (began - first) / max(count, 1)
    return [Fill(first + (number + 0.5) * step, oxygen, None) for number in range(count)]
