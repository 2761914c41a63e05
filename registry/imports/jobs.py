"""The life of an uploaded register: received, read, answered, loaded; queued when it is large."""

import tempfile
from collections.abc import Callable
from datetime import datetime, timedelta
from io import TextIOWrapper
from pathlib import Path
from typing import Any

from django.core.files import File
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from registry.imports.answers import Answers
from registry.imports.headers import match_headings
from registry.imports.load import ImportOutcome, run_import
from registry.imports.problems import ImportFileError
from registry.imports.reader import MAX_ROWS, count_rows, open_table
from registry.models import ImportBatch, Organisation, User

INLINE_ROWS = 5_000
SILENT_FOR = timedelta(minutes=5)  # a running job says more often than this that it lives
REPORT_EVERY = 500

State = ImportBatch.State
RUNS_AS = {State.CHECK_WAITING: State.CHECKING, State.LOAD_WAITING: State.LOADING}


def receive(
    *, owner: Organisation, uploaded_by: User, upload: UploadedFile, now: datetime
) -> ImportBatch:
    """Keep the file and begin to read it; ImportFileError when it is no register at all."""
    name = Path(upload.name or "register").name[:200]
    batch = ImportBatch(owner=owner, uploaded_by=uploaded_by, uploaded_at=now, file_name=name)
    batch.file.save(name, upload, save=False)
    try:
        with open_table(batch.file.path) as table:
            match_headings(table.headings)
        batch.rows_total = count_rows(batch.file.path, up_to=INLINE_ROWS + 1)
    except ImportFileError:
        batch.file.delete(save=False)
        raise
    batch.save()
    _start(batch)
    return batch


def answer(batch: ImportBatch, answers: Answers) -> None:
    """Read the file again in the light of the answers; not while somebody has it loaded."""
    idle = ImportBatch.objects.exclude(state__in=(*ImportBatch.WAITING, *ImportBatch.RUNNING))
    claimed = idle.filter(pk=batch.pk).update(
        answers=answers.to_json(), state=State.CHECK_WAITING, error="", rows_read=0
    )
    if claimed:
        batch.refresh_from_db()
        _start(batch)


def load(batch: ImportBatch, *, loaded_by: User, now: datetime) -> bool:
    """Begin to load what was checked; False when somebody else has begun already."""
    claimed = ImportBatch.objects.filter(pk=batch.pk, state=State.CHECKED).update(
        state=State.LOAD_WAITING, loaded_by=loaded_by, load_started_at=now, error="", rows_read=0
    )
    if claimed:
        batch.refresh_from_db()
        _start(batch)
    return bool(claimed)


def _start(batch: ImportBatch) -> None:
    from registry.tasks import advance_import

    if batch.rows_total <= INLINE_ROWS:
        advance(batch.pk)
        batch.refresh_from_db()
    else:
        transaction.on_commit(lambda: advance_import.delay(batch.pk))


def advance(pk: int) -> None:
    """Do the waiting step of a batch; of two workers only one gets it."""
    batch = _claim(pk)
    if batch is None:
        return
    try:
        outcome = _run(batch)
    except ImportFileError as error:
        _end(batch, State.FAILED, error=str(error))
    except Exception:
        _end(batch, State.FAILED, error=UNEXPECTED)
        raise
    else:
        done = State.LOADED if _is_load(batch) else State.CHECKED
        _end(batch, done, outcome=outcome.to_json(), rows_total=outcome.rows)


UNEXPECTED = (
    "The import stopped on a fault of this program. What was loaded before it is whole; reading "
    "the file again shows what is left."
)


def _claim(pk: int) -> ImportBatch | None:
    now = timezone.now()
    for waiting, running in RUNS_AS.items():
        stale = Q(state=running, heartbeat_at__lt=now - SILENT_FOR)
        claimed = ImportBatch.objects.filter(Q(state=waiting) | stale, pk=pk).update(
            state=running, heartbeat_at=now, rows_read=0
        )
        if claimed:
            claimed_batch: ImportBatch = ImportBatch.objects.get(pk=pk)
            return claimed_batch
    return None


def _run(batch: ImportBatch) -> ImportOutcome:
    if batch.rows_total > INLINE_ROWS:
        batch.rows_total = count_rows(batch.file.path, up_to=MAX_ROWS + 1)
        batch.save(update_fields=["rows_total"])
    with tempfile.TemporaryFile("w+b") as mend:
        text = TextIOWrapper(mend, encoding="utf-8-sig", newline="", write_through=True)
        outcome = run_import(
            batch.file.path,
            owner=batch.owner,
            answers=Answers.from_json(batch.answers),
            now=(_is_load(batch) and batch.load_started_at) or timezone.now(),
            recorded_by=_loader(batch) if _is_load(batch) else None,
            source=batch.file_name,
            mend_to=text,
            on_rows=_reporter(batch),
        )
        _keep_mend_file(batch, File(mend) if outcome.mend else None)
        text.detach()
    return outcome


def _is_load(batch: ImportBatch) -> bool:
    return batch.state == State.LOADING


def _loader(batch: ImportBatch) -> User:
    """Who asked for the loading, if they still may: the job may run long after the click."""
    user = batch.loaded_by
    if user is None or not ImportBatch.objects.manageable_by(user).filter(pk=batch.pk).exists():
        raise ImportFileError(f"{user} no longer manages {batch.owner}.")
    return user


def _reporter(batch: ImportBatch) -> Callable[[int], None]:
    unreported = 0

    def report(rows: int) -> None:
        nonlocal unreported
        unreported += rows
        if unreported >= REPORT_EVERY:
            ImportBatch.objects.filter(pk=batch.pk).update(
                rows_read=F("rows_read") + unreported, heartbeat_at=timezone.now()
            )
            unreported = 0

    return report


def _keep_mend_file(batch: ImportBatch, file: File | None) -> None:
    if batch.mend_file:
        batch.mend_file.delete(save=False)
    if file:
        batch.mend_file.save("rows-to-mend.csv", file, save=False)


def _end(batch: ImportBatch, state: str, **values: Any) -> None:
    batch.state = state
    for name, value in values.items():
        setattr(batch, name, value)
    batch.save(update_fields=["state", "mend_file", *values])


def sweep(now: datetime) -> int:
    """Take up again what a dead worker or broker left: late, never lost."""
    left = ImportBatch.objects.filter(
        Q(state__in=ImportBatch.WAITING)
        | Q(state__in=ImportBatch.RUNNING, heartbeat_at__lt=now - SILENT_FOR)
    )
    pks = list(left.values_list("pk", flat=True))
    for pk in pks:
        advance(pk)
    return len(pks)
