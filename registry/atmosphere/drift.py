"""How the gas changes between records: what leaks out of gas-filled pipe is made up by its supply.

Trapped gas in wet pipe is not made up, so it does not drift. Cylinders are topped up by hand and
leave no trace of how much, so no change is claimed for them.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import lru_cache

from registry.atmosphere.types import AIR, Feed, Oxygen, Span, SystemFacts
from registry.corrosion.gas import (
    drifted_fraction,
    generator_turnover,
    oxygen_from_n2_percent,
    sweep_volumes_needed,
    time_to_threshold,
    turnover_rate,
)

DAY_S = 86400.0


def drifts(facts: SystemFacts, feed: Feed) -> bool:
    return facts.is_gas_filled and feed.kind in ("generator", "compressor")


@lru_cache(maxsize=4096)
def feed_oxygen(facts: SystemFacts, feed: Feed) -> Oxygen:
    """Oxygen in the make-up gas; a range when a generator's purity is not recorded."""
    if feed.kind == "compressor":
        return Oxygen.exactly(AIR)
    if feed.n2_percent is not None:
        return Oxygen.exactly(float(oxygen_from_n2_percent(feed.n2_percent)))
    policy = facts.policy
    percents = (
        policy.most_supply_n2_percent,
        policy.usual_supply_n2_percent,
        policy.least_supply_n2_percent,
    )
    return Oxygen(*(float(oxygen_from_n2_percent(percent)) for percent in percents))


@lru_cache(maxsize=4096)
def turnover_per_day(facts: SystemFacts, feed: Feed) -> tuple[float, float, float]:
    """Share of the gas replaced in a day: least, usual, most."""
    policy, pressure = facts.policy, facts.service_pressure_pa
    swept = _swept_per_day(facts) if feed.kind == "generator" else 0.0
    leaks = (
        policy.least_leak_pa_per_day,
        policy.usual_leak_pa_per_day,
        policy.most_leak_pa_per_day,
    )
    least, usual, most = (float(turnover_rate(leak, pressure)) + swept for leak in leaks)
    return least, usual, most


def _swept_per_day(facts: SystemFacts) -> float:
    if not facts.generator_flow_m3_s or not facts.volume_m3:
        return 0.0
    pressure = facts.service_pressure_pa
    return DAY_S * float(generator_turnover(facts.generator_flow_m3_s, facts.volume_m3, pressure))


def drifted(oxygen: Oxygen, facts: SystemFacts, feed: Feed, days: float) -> Oxygen:
    """The estimate after so many days; its range covers every leak and feed held possible."""
    if not drifts(facts, feed) or days <= 0:
        return oxygen
    makeup, (least, usual, most) = feed_oxygen(facts, feed), turnover_per_day(facts, feed)

    def after(start: float, supplied: float, turnover: float) -> float:
        return float(drifted_fraction(start, supplied, turnover, days))

    return Oxygen(
        min(after(oxygen.low, makeup.low, turnover) for turnover in (least, most)),
        after(oxygen.mid, makeup.mid, usual),
        max(after(oxygen.high, makeup.high, turnover) for turnover in (least, most)),
    )


def drifted_estimate(oxygen: float, facts: SystemFacts, feed: Feed, days: float) -> float:
    """What `drifted` says of the estimate, without its range."""
    if not drifts(facts, feed) or days <= 0:
        return oxygen
    makeup, usual = feed_oxygen(facts, feed).mid, turnover_per_day(facts, feed)[1]
    return float(drifted_fraction(oxygen, makeup, usual, days))


def days_until_above(level: float, oxygen: Oxygen, facts: SystemFacts, feed: Feed) -> float:
    """Days until make-up carries the estimate over a level; infinity if it never does."""
    if not drifts(facts, feed) or oxygen.mid > level or feed_oxygen(facts, feed).mid <= level:
        return math.inf
    makeup, usual = feed_oxygen(facts, feed).mid, turnover_per_day(facts, feed)[1]
    return float(time_to_threshold(oxygen.mid, makeup, level, usual))


def days_until_down_to(level: float, oxygen: Oxygen, facts: SystemFacts, feed: Feed) -> float:
    """Days until the supply sweeps the estimate down to a level; infinity if it never does.

    An estimate that is there already was brought there by something else, and is not swept again.
    """
    if not drifts(facts, feed) or oxygen.mid <= level:
        return math.inf
    makeup, usual = feed_oxygen(facts, feed).mid, turnover_per_day(facts, feed)[1]
    return float(sweep_volumes_needed(oxygen.mid, makeup, level)) / usual


def span_at(spans: Sequence[Span], when: datetime) -> Span | None:
    """The span that holds at an instant; None before the first."""
    begun = bisect_right(spans, when, key=lambda span: span.starts_at)
    return spans[begun - 1] if begun else None


def oxygen_at(spans: Sequence[Span], facts: SystemFacts, when: datetime) -> Oxygen:
    """The estimate at an instant, drift within the span included; air before the first span."""
    span = span_at(spans, when)
    if span is None:
        return Oxygen.exactly(AIR)
    return drifted(span.oxygen, facts, span.feed, (when - span.starts_at) / timedelta(days=1))
