"""What can be written into a ledger: every kind of record as data, with just the fields it needs.

Forms, checks, pages, exports and the contributor guide are all made from these, and so is what a
record does to gas, water, protection and strip. Codes are stored and chained by hash, so a code
never changes once it is in use; whoever needs one kind in particular imports it by name.
"""

from registry import protection
from registry.atmosphere import gas_effects
from registry.kinds.checking import DetailsError, answered, check_details
from registry.kinds.events import BY_SUBJECT
from registry.kinds.facts import REGISTER
from registry.kinds.inspections import INSPECTIONS
from registry.kinds.parts import Field, Kind
from registry.kinds.readings import READINGS
from registry.kinds.requests import REQUESTS
from registry.kinds.steps import STEPS

__all__ = [
    "DEFINED_IN",
    "KINDS",
    "DetailsError",
    "Field",
    "Kind",
    "answered",
    "check_details",
    "entered_by_hand",
]

DEFINED_IN: dict[str, tuple[Kind, ...]] = {
    **BY_SUBJECT,
    "requests": REQUESTS,
    "readings": READINGS,
    "steps": STEPS,
    "inspections": INSPECTIONS,
    "facts": REGISTER,
}
KINDS: dict[str, Kind] = {kind.code: kind for kinds in DEFINED_IN.values() for kind in kinds}
gas_effects.tell({code: kind.gas for code, kind in KINDS.items()})
protection.tell({code: kind.protection for code, kind in KINDS.items()})


def entered_by_hand(system_kind: str) -> list[Kind]:
    """The kinds a person can choose from for a system of this kind."""
    return [kind for kind in KINDS.values() if kind.is_entered_by_hand and kind.suits(system_kind)]
