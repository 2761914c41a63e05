"""Inerting ordered by the owner, from whichever page shows that it is wanted."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from registry.kinds.requests import INERTING_WANTED
from registry.models import AtmosphereSpan, Record, System, User
from registry.models.pipes import RUSTLESS
from registry.services import RecordError, record
from registry.services.ledger import lock, sent_before
from scheduling.models import Task


@transaction.atomic
def order_inerting(
    *, system: System, by: User, now: datetime, wanted_by: date | None = None, note: str = "",
    client_key: UUID | None = None,
) -> Record:  # fmt: skip
    """Write down that the owner wants the system inert; the rules raise the order in the same
    transaction. Refused where it is ordered already, or where there is nothing to order."""
    held = lock(system)
    details = {"wanted_by": wanted_by.isoformat()} if wanted_by else {}
    said: dict[str, Any] = {"kind": INERTING_WANTED.code, "note": note, "recorded_by": by}
    if earlier := sent_before(held, client_key, details, **said):
        return earlier
    if problem := why_not(held, now):
        raise RecordError({"": problem})
    return record(
        system=held, occurred_at=now, details=details, client_key=client_key, now=now, **said
    )


def open_order(system: System) -> Task | None:
    return system.tasks.open().inerting_runs().order_by("due_at", "pk").first()


def why_not(system: System, now: datetime) -> str:
    """Why nothing can be ordered; empty where it can."""
    if system.kind == System.Kind.DELUGE:
        return gettext("A deluge system has open pipe: it holds no gas.")
    if open_order(system):
        return gettext("It is ordered already; the order is still open.")
    spans = AtmosphereSpan.objects.filter(system=system, starts_at__lte=now)
    latest = spans.order_by("-starts_at").first()
    if latest is None or latest.state != AtmosphereSpan.State.AERATED:
        state = latest.get_state_display().lower() if latest else gettext("not derived yet")
        return gettext(
            "Only an aerated system is ordered inert; this one is %(state)s."
        ) % {"state": state}  # fmt: skip
    return ""


def is_rustless(system: System) -> bool:
    """All its pipe on record is of what does not rust: the owner may order it, nobody urges."""
    materials = set(system.pipe_runs.current().order_by().values_list("material", flat=True))
    return bool(materials) and materials <= RUSTLESS
