"""What a gas reading shows, and what it cannot show.

Iron uses up oxygen, so trapped air in wet pipe reads as nitrogen in the end, and one vent says
nothing of the other pockets: a good reading never makes aerated wet pipe inert, only an accepted
run does. Gas-filled pipe swept by a generator is mixed and renewed, so readings there can prove it.
Which point was read is not asked, so two readings are needed unless the sweep should be over.
"""

from dataclasses import replace

from registry.atmosphere.breaches import state_at
from registry.atmosphere.types import (
    AERATED,
    AIR,
    IN_DOUBT,
    INERT,
    Condition,
    LedgerItem,
    Oxygen,
    SystemFacts,
)


def after_reading(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    n2 = item.number("n2_percent")
    if n2 is None:
        return condition
    read = replace(
        condition,
        oxygen=estimate(condition, n2, facts),
        read_at=item.occurred_at,
    )
    if condition.run is not None:
        return during_run(read, item.id, n2, facts)
    shown = state_at(read.oxygen.mid, facts)
    judge = {INERT: _good, IN_DOUBT: _poor, AERATED: _bad}[shown]
    return judge(read, item.id, n2, facts)


def estimate(condition: Condition, n2_percent: float, facts: SystemFacts) -> Oxygen:
    """The reading and the meter's error; other pockets of aerated wet pipe may still hold air."""
    oxygen = Oxygen.read(n2_percent, facts.policy.analyser_error_percent)
    hidden = condition.state == AERATED and condition.run is None and not facts.is_gas_filled
    return replace(oxygen, high=AIR) if hidden else oxygen


def during_run(read: Condition, cause_id: int, n2: float, facts: SystemFacts) -> Condition:
    """Until the run is accepted a reading can take nitrogen's credit away, never give it."""
    shown = state_at(read.oxygen.mid, facts)
    if read.state != INERT or shown == INERT:
        return read
    return read.turned(shown, *_below(n2, facts), cause_id)


def _good(read: Condition, cause_id: int, n2: float, facts: SystemFacts) -> Condition:
    if read.state == AERATED:
        return _good_while_aerated(read, cause_id, n2, facts)
    if read.state == IN_DOUBT and not _clears(read):
        return read
    reason = f"Reading of {n2:g} % nitrogen, at or above the target of {_target(facts)}."
    proven_at = read.proven_at or read.at
    return replace(read.turned(INERT, "reading.good", reason, cause_id), proven_at=proven_at)


def _clears(read: Condition) -> bool:
    return read.clears_from is not None and read.at >= read.clears_from


def _good_while_aerated(read: Condition, cause_id: int, n2: float, facts: SystemFacts) -> Condition:
    if not facts.is_gas_filled or read.feed.kind != "generator":
        return read
    reason = (
        f"First reading at the target ({n2:g} % nitrogen) since the generator took over: "
        "a second one, a day or more later, confirms it."
    )
    turned = read.turned(IN_DOUBT, "generator.first_reading", reason, cause_id)
    return replace(turned, clears_from=read.at + facts.policy.second_reading_after)


def _poor(read: Condition, cause_id: int, n2: float, facts: SystemFacts) -> Condition:
    if read.state == AERATED:
        return read
    proven = read.proven_at is not None
    return read.turned(IN_DOUBT if proven else AERATED, *_below(n2, facts), cause_id)


def _bad(read: Condition, cause_id: int, n2: float, facts: SystemFacts) -> Condition:
    if read.state == AERATED:
        return read
    return read.turned(AERATED, *_below(n2, facts), cause_id)


def _below(n2: float, facts: SystemFacts) -> tuple[str, str]:
    oxygen = 1.0 - n2 / 100.0
    share = f": {100 * oxygen / AIR:.0f} % of the gas is air" if oxygen < AIR else ""
    reason = f"Reading of {n2:g} % nitrogen, below the target of {_target(facts)}{share}."
    return "reading.below_target", reason


def _target(facts: SystemFacts) -> str:
    return f"{facts.policy.target_n2_percent:g} %"
