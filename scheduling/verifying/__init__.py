"""The book held against its records with all that the schedule keeps beside them."""

from collections.abc import Callable
from datetime import datetime

from registry.models import OwnerVerdict, System
from registry.services.verdicts import owners_with_systems, verify_owner
from registry.verifying import Examined, Prepared, examined
from registry.verifying.log import in_log
from registry.verifying.owner import names_of
from registry.verifying.told import told_of
from scheduling.messages.causes import note_verdict
from scheduling.verifying.attached import attachments_of
from scheduling.verifying.derived import derived_of
from scheduling.verifying.schedule import asked_of, settled_of

MORE: tuple[Prepared, ...] = (
    in_log, names_of, told_of, attachments_of, derived_of, settled_of,
)  # fmt: skip
NIGHTLY: tuple[Prepared, ...] = (*MORE, asked_of)


def verify_all(
    now: datetime, on_piece: Callable[[int], None] = lambda count: None
) -> list[OwnerVerdict]:
    """Every owner's book; those who keep one that does not hold are told."""
    verdicts = []
    for owner in owners_with_systems():
        verdict = verify_owner(owner, more=NIGHTLY, now=now, on_piece=on_piece)
        if not verdict.holds:
            note_verdict(verdict, now)
        verdicts.append(verdict)
    return verdicts


def verify_system(system: System) -> Examined:
    """One system, now: before anything of its ledger leaves the book."""
    return next(examined(System.objects.filter(pk=system.pk), MORE))
