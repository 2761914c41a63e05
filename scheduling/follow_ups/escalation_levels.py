"""Who hears of a follow-up that is late, and after how long; pure but for reading the levels."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from registry.models import Organisation
from scheduling.models import EscalationLevel

Told = EscalationLevel.Told
USUAL = ((1, Told.WORKER), (7, Told.OWNER))
"""Days late, and who is told. Common practice, no source."""


def levels_of(owner: Organisation) -> list[EscalationLevel]:
    """The owner's levels, or unsaved ones as is usual where it has set none."""
    kept = list(owner.escalation_levels.select_related("person"))
    return kept or [
        EscalationLevel(owner=owner, level=number, after_days=days, told=told)
        for number, (days, told) in enumerate(USUAL, start=1)
    ]


def reached(
    levels: Sequence[EscalationLevel], due_at: datetime, now: datetime
) -> list[EscalationLevel]:
    """The levels that a follow-up due then has come to by now."""
    return [level for level in levels if now >= due_at + timedelta(days=level.after_days)]
