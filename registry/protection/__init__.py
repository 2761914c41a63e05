"""Whether the sprinklers would work, derived from its ledger: pure, no clock.

Protection is beside the atmosphere: a system can be in service and full of air.
"""

from registry.protection.derive import derive, impairments, open_impairments, standing
from registry.protection.effects import effect_of_kind, tell
from registry.protection.types import (
    IMPAIRED,
    IN_SERVICE,
    NOT_KNOWN,
    Condition,
    Impairment,
    Span,
    State,
    Verdict,
)

__all__ = [
    "Condition",
    "IMPAIRED",
    "IN_SERVICE",
    "NOT_KNOWN",
    "Impairment",
    "Span",
    "State",
    "Verdict",
    "derive",
    "effect_of_kind",
    "impairments",
    "open_impairments",
    "standing",
    "tell",
]
