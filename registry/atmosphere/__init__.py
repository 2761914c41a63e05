"""The atmosphere of a system, derived from its ledger: pure functions, no database, no clock."""

from registry.atmosphere.confirming import Due
from registry.atmosphere.derive import confirming_due, derive, effect_of, effects_of
from registry.atmosphere.drift import oxygen_at, span_at
from registry.atmosphere.effects import Effect
from registry.atmosphere.events import Breach
from registry.atmosphere.gas_effects import GasEffect, breach
from registry.atmosphere.policy import Policy
from registry.atmosphere.types import Feed, LedgerItem, Oxygen, Span, SystemFacts

__all__ = [
    "Breach",
    "Due",
    "Effect",
    "Feed",
    "GasEffect",
    "LedgerItem",
    "Oxygen",
    "Policy",
    "Span",
    "SystemFacts",
    "breach",
    "confirming_due",
    "derive",
    "effect_of",
    "effects_of",
    "oxygen_at",
    "span_at",
]
