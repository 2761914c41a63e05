"""The steps of an inerting run. Only its acceptance makes a pipe inert.

Wet pipe is drained to begin the run, so it counts as aerated until the run is accepted; gas-filled
pipe keeps its state, and only its estimate follows the fills and readings.
"""

from dataclasses import replace

from registry.atmosphere.readings import during_run, estimate
from registry.atmosphere.types import (
    AERATED,
    AIR,
    INERT,
    Condition,
    LedgerItem,
    Oxygen,
    RunAtRiser,
    SystemFacts,
    oxygen_beside,
)
from registry.corrosion.gas import purged_fraction

UNDER_WAY = "run.under_way"


def _run(condition: Condition, facts: SystemFacts) -> RunAtRiser:
    """The run under way; a step without a start on record gets the usual cylinder gas."""
    return condition.run or RunAtRiser(facts.policy.cylinder_n2_percent)


def started(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    feed = item.number("feed_n2_percent")
    run = RunAtRiser(feed) if feed is not None else _run(condition, facts)
    begun = replace(condition, run=run)
    if begun.state == INERT and facts.is_gas_filled:
        return begun
    begun = replace(begun, oxygen=_at_start(begun, item, facts))
    if facts.is_gas_filled or begun.state == AERATED:
        return begun
    reason = "Drained for an inerting run, which is not accepted yet."
    return begun.turned(AERATED, UNDER_WAY, reason, item.id)


def _at_start(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Oxygen:
    n2 = item.number("start_n2_percent")
    if n2 is None:
        return condition.oxygen.presumably_air()
    estimated = estimate(condition, n2, facts)
    return Oxygen.exactly(AIR) if estimated.mid >= AIR else estimated


def filled(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    run, reached = _run(condition, facts), item.number("pressure_gauge_pa") or 0.0
    ratio = (run.purged_gauge_pa + facts.atmosphere_pa) / (reached + facts.atmosphere_pa)
    if ratio >= 1:
        return replace(condition, run=run)
    feed = oxygen_beside(run.feed_n2_percent)
    oxygen = _after_fill(condition.oxygen, feed, ratio, facts.policy.mixing_spread)
    return replace(condition, run=replace(run, purged_gauge_pa=reached), oxygen=oxygen)


def _after_fill(oxygen: Oxygen, feed: float, ratio: float, spread: float) -> Oxygen:
    """Full mixing as the estimate; poorer and better mixing than that as its range."""

    def fill(start: float, mixing: float) -> float:
        return float(purged_fraction(start, feed, ratio, mixing=mixing))

    mixings = (1.0 - spread, 1.0 + spread)
    return Oxygen(
        min(fill(oxygen.low, mixing) for mixing in mixings),
        fill(oxygen.mid, 1.0),
        max(fill(oxygen.high, mixing) for mixing in mixings),
    )


def purged(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    left = item.number("pressure_gauge_pa") or 0.0
    return replace(condition, run=replace(_run(condition, facts), purged_gauge_pa=left))


def read(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    n2 = item.number("n2_percent")
    if n2 is None:
        return condition
    running = replace(condition, run=_run(condition, facts))
    shown = replace(running, oxygen=estimate(running, n2, facts), read_at=item.occurred_at)
    return during_run(shown, item.id, n2, facts)


def accepted(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    """Judged by the target of the run itself, so a later change of policy does not undo it."""
    last = replace(read(condition, item, facts), run=None)
    n2 = item.number("n2_percent")
    target = item.number("target_n2_percent") or facts.policy.target_n2_percent
    if n2 is None or n2 < target:
        return last
    reason = f"Inerting run accepted at {n2:g} % nitrogen; the target was {target:g} %."
    inert = last.turned(INERT, "run.accepted", reason, item.id)
    return replace(inert, proven_at=item.occurred_at)


def stopped(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    stopped = replace(condition, run=None)
    if condition.reason_code != UNDER_WAY:
        return stopped
    reason = "Drained for an inerting run, which was stopped before acceptance."
    return stopped.because("run.stopped", reason, item.id)
