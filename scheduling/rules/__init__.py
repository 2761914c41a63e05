"""What should be done next: one pure function for each rule, from what is known of a system.

The rules look at where the system stands, not at which record came last. So the order in which
records arrive makes no difference, nor does applying the rules twice, or late after a lost message.
"""

from scheduling.rules.atmosphere import ACCEPTED, AERATED, IN_DOUBT, still_asked
from scheduling.rules.findings import GAS_SUPPLY, LOW_POINTS, OBSTRUCTION, THIN_WALL
from scheduling.rules.types import (
    TIME,
    Cause,
    Delay,
    Facts,
    Finding,
    Party,
    Rule,
    TaskDraft,
    Tuning,
)

__all__ = [
    "CONFIRMING",
    "RULES",
    "TIME",
    "Cause",
    "Delay",
    "Facts",
    "Finding",
    "Party",
    "Rule",
    "TaskDraft",
    "Tuning",
    "drafts_for",
    "rule_of",
    "still_asked",
]

RULES: tuple[Rule, ...] = (
    AERATED,
    IN_DOUBT,
    ACCEPTED,
    OBSTRUCTION,
    THIN_WALL,
    LOW_POINTS,
    GAS_SUPPLY,
)


CONFIRMING = ACCEPTED.code


def drafts_for(facts: Facts) -> list[TaskDraft]:
    """What every rule asks for that the owner has not switched off."""
    return [draft for rule in RULES if facts.tuned(rule.code).is_on for draft in rule.drafts(facts)]


def rule_of(code: str) -> Rule | None:
    return next((rule for rule in RULES if rule.code == code), None)
