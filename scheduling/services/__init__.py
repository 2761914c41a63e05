"""Every change to follow-ups goes through here: keyword-only, atomic, noted on their trail."""

from scheduling.services.confirming import bring_up_to_date, set_confirmation
from scheduling.services.escalating import escalate
from scheduling.services.following import (
    Changes,
    apply_rules,
    follow_up_new,
    note_failure,
    reconcile,
)
from scheduling.services.ruling import set_levels, set_rule
from scheduling.services.working import (
    WorkError,
    accept,
    begin,
    begin_with_run,
    book,
    comment,
    decline,
    give_to_crew,
    give_up,
    hand_over,
)

__all__ = [
    "Changes",
    "WorkError",
    "accept",
    "apply_rules",
    "begin",
    "begin_with_run",
    "book",
    "bring_up_to_date",
    "comment",
    "decline",
    "escalate",
    "follow_up_new",
    "give_to_crew",
    "give_up",
    "hand_over",
    "note_failure",
    "reconcile",
    "set_confirmation",
    "set_levels",
    "set_rule",
]
