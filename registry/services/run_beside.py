"""What is written beside the steps of a run: photos, and the signature of the hand-over."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.files.base import ContentFile, File
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from registry.models import InertingRun, Record, User
from registry.runs.steps import PHOTO, SIGNED
from registry.services.attaching import record_with_files
from registry.services.ledger import RecordError, lock

ON_SCREEN, ON_PAPER = "screen", "paper"


def add_photos(
    *,
    run: InertingRun,
    details: Mapping[str, Any],
    files: Iterable[File],
    recorded_by: User,
    client_key: UUID | None = None,
    held: timedelta = timedelta(),
    now: datetime | None = None,
) -> Record:
    """Photos of gauge, meter or tag, as a record of the run; at any time, also after its end."""
    now, files = now or timezone.now(), list(files)
    if not files:
        raise RecordError({"files": gettext("Choose at least one photo.")})
    return record_with_files(
        system=run.system, kind=PHOTO, occurred_at=now - held, details=details, files=files,
        recorded_by=recorded_by, client_key=client_key, inerting_run=run, now=now,
    )  # fmt: skip


@transaction.atomic
def sign_hand_over(
    *,
    run: InertingRun,
    details: Mapping[str, Any],
    drawn: bytes | None,
    recorded_by: User,
    client_key: UUID | None = None,
    now: datetime | None = None,
) -> Record:
    """The hand-over of a run that has ended, signed on the screen or said to be signed on paper.
    What was drawn is a file of the record, which holds its digest."""
    now = now or timezone.now()
    lock(run.system)
    run.refresh_from_db(fields=["status"])
    if run.is_unfinished:
        raise RecordError({"": gettext("The run has not ended: hand it over afterwards.")})
    if (details.get("way") == ON_SCREEN) != (drawn is not None):
        raise RecordError({"way": gettext("Sign in the box, or say that it was signed on paper.")})
    files = [ContentFile(drawn, name="signature.png")] if drawn else []
    return record_with_files(
        system=run.system, kind=SIGNED, occurred_at=now, details=details, files=files,
        recorded_by=recorded_by, client_key=client_key, inerting_run=run, now=now,
    )  # fmt: skip
