"""The atmosphere of a system, derived from its ledger: pure functions, no database, no clock."""

from registry.atmosphere.confirming import Due
from registry.atmosphere.derive import confirming_due, derive, effect_of, effects
from registry.atmosphere.drift import oxygen_at, span_at
from registry.atmosphere.effects import Effect
from registry.atmosphere.policy import Policy
from registry.atmosphere.types import Feed, LedgerItem, Oxygen, Span, SystemFacts

__all__ = [
    "Due",
    "Effect",
    "Feed",
    "LedgerItem",
    "Oxygen",
    "Policy",
    "Span",
    "SystemFacts",
    "confirming_due",
    "derive",
    "effect_of",
    "effects",
    "oxygen_at",
    "span_at",
]
