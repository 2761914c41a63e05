"""The life of an uploaded register: received, read, answered, loaded; queued when it is large."""

import logging
import tempfile
from collections.abc import Callable
from datetime import datetime, timedelta
from io import TextIOWrapper
from itertools import islice
from pathlib import Path
from typing import Any

from django.core.files import File
from django.core.files.uploadedfile import UploadedFile
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext

from registry.imports.answers import Answers
from registry.imports.load import run_import
from registry.imports.outcome import ImportOutcome
from registry.imports.problems import ImportFileError
from registry.imports.reading import SECONDS_IN_REQUEST, TooSlow
from registry.imports.shapes import remember, remembered
from registry.imports.table import open_table
from registry.jobs import ask
from registry.models import ImportBatch, Organisation, User
from registry.translation import _

ADVANCE = "registry.import"

log = logging.getLogger(__name__)

INLINE_ROWS = 5_000
INLINE_BYTES = 4 << 20  # a larger file is not opened in a request at all
SILENT_FOR = timedelta(minutes=5)  # a running job says more often than this that it lives
REPORT_EVERY = 500
MOST_ATTEMPTS = 3  # a job that died so often dies of the file

State = ImportBatch.State
RUNS_AS = {State.CHECK_WAITING: State.CHECKING, State.LOAD_WAITING: State.LOADING}


def receive(
    *, owner: Organisation, uploaded_by: User, upload: UploadedFile, now: datetime
) -> ImportBatch:
    """Keep the file and begin to read it; ImportFileError when it is no register at all.

    What was answered for an earlier file of these columns is taken over.
    """
    name = Path(upload.name or "register").name[:200]
    batch = ImportBatch(owner=owner, uploaded_by=uploaded_by, uploaded_at=now, file_name=name)
    batch.file.save(name, upload, save=False)
    try:
        _look(batch)
    except ImportFileError:
        batch.file.delete(save=False)
        raise
    batch.save()
    _start(batch)
    return batch


def _look(batch: ImportBatch) -> None:
    """How many rows, and which answers are known; a file that takes long is left to a worker."""
    batch.rows_total = INLINE_ROWS + 1
    if batch.file.size > INLINE_BYTES:
        return
    try:
        with open_table(batch.file.path, Answers(), seconds=SECONDS_IN_REQUEST) as table:
            known = remembered(batch.owner, table.layout.headings)
            batch.answers = known.to_json() if known != Answers() else {}
            batch.rows_total = sum(1 for _ in islice(table.rows(), INLINE_ROWS + 1))
    except TooSlow:
        return


def answer(batch: ImportBatch, answers: Answers) -> None:
    """Read the file again in the light of the answers; not while somebody has it loaded."""
    idle = ImportBatch.objects.exclude(state__in=(*ImportBatch.WAITING, *ImportBatch.RUNNING))
    claimed = idle.filter(pk=batch.pk).update(
        answers=answers.to_json(), state=State.CHECK_WAITING, error="", rows_read=0, attempts=0
    )
    if claimed:
        batch.refresh_from_db()
        remember(batch, answers, timezone.now())
        _start(batch)


def load(batch: ImportBatch, *, loaded_by: User, now: datetime) -> bool:
    """Begin to load what was checked; False when somebody else has begun already."""
    claimed = ImportBatch.objects.filter(pk=batch.pk, state=State.CHECKED).update(
        state=State.LOAD_WAITING, loaded_by=loaded_by, load_started_at=now, error="", rows_read=0,
        attempts=0,
    )  # fmt: skip
    if claimed:
        batch.refresh_from_db()
        _start(batch)
    return bool(claimed)


def _start(batch: ImportBatch) -> None:
    if batch.rows_total <= INLINE_ROWS:
        advance(batch.pk)
        batch.refresh_from_db()
    else:
        _ask(batch)


def _ask(batch: ImportBatch) -> None:
    ask(ADVANCE, key=str(batch.pk), arguments={"batch": batch.pk}, owner=batch.owner)


def advance(pk: int, *, is_alone: bool = False) -> None:
    """Do the waiting step of a batch; of two workers only one gets it. A job is alone with its
    batch: what an earlier attempt had begun is taken up without waiting for its silence."""
    batch = _claim(pk, is_alone)
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


UNEXPECTED = _(
    "The import stopped on a fault of this program. What was loaded before "
    "it is whole; reading the file again shows what is left."
)
GIVEN_UP = _(
    "The import was tried three times and is given up. What was loaded "
    "before is whole; a smaller file, or the same one in parts, may go "
    "through."
)


def give_up(pk: int, words: str) -> None:
    """The job that was to read or load it has ended for good."""
    under_way = ImportBatch.objects.filter(
        pk=pk, state__in=(*ImportBatch.WAITING, *ImportBatch.RUNNING)
    )
    under_way.update(state=State.FAILED, error=f"{words} {GIVEN_UP}")


def _claim(pk: int, is_alone: bool = False) -> ImportBatch | None:
    now = timezone.now()
    for waiting, running in RUNS_AS.items():
        stale = Q(state=running)
        if not is_alone:
            stale &= Q(heartbeat_at__lt=now - SILENT_FOR)
        claimed = ImportBatch.objects.filter(Q(state=waiting) | stale, pk=pk).update(
            state=running, heartbeat_at=now, rows_read=0, attempts=F("attempts") + 1
        )
        if claimed:
            batch: ImportBatch = ImportBatch.objects.get(pk=pk)
            if batch.attempts <= MOST_ATTEMPTS:
                return batch
            log.error("import.given_up batch=%s attempts=%s", pk, MOST_ATTEMPTS)
            _end(batch, State.FAILED, error=GIVEN_UP)
    return None


def _run(batch: ImportBatch) -> ImportOutcome:
    with tempfile.TemporaryFile("w+b") as to_fix:
        text = TextIOWrapper(to_fix, encoding="utf-8-sig", newline="", write_through=True)
        outcome = run_import(
            batch.file.path,
            owner=batch.owner,
            answers=Answers.from_json(batch.answers),
            now=(_is_load(batch) and batch.load_started_at) or timezone.now(),
            recorded_by=_loader(batch) if _is_load(batch) else None,
            source=batch.file_name,
            to_fix=text,
            on_rows=_reporter(batch),
            on_count=lambda rows: _know_total(batch, rows),
        )
        _keep_rows_to_fix(batch, File(to_fix) if outcome.to_fix else None)
        text.detach()
    return outcome


def _know_total(batch: ImportBatch, rows: int) -> None:
    batch.rows_total = rows
    ImportBatch.objects.filter(pk=batch.pk).update(rows_total=rows, heartbeat_at=timezone.now())


def _is_load(batch: ImportBatch) -> bool:
    return batch.state == State.LOADING


def _loader(batch: ImportBatch) -> User:
    """Who asked for the loading, if they still may: the job may run long after the click."""
    user = batch.loaded_by
    if user is None or not ImportBatch.objects.manageable_by(user).filter(pk=batch.pk).exists():
        raise ImportFileError(
            gettext("%(user)s no longer manages %(owner)s.") % {"user": user, "owner": batch.owner}
        )
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


def _keep_rows_to_fix(batch: ImportBatch, file: File | None) -> None:
    if batch.to_fix_file:
        batch.to_fix_file.delete(save=False)
    if file:
        batch.to_fix_file.save("rows-to-fix.csv", file, save=False)


def _end(batch: ImportBatch, state: str, **values: Any) -> None:
    batch.state = state
    for name, value in values.items():
        setattr(batch, name, value)
    batch.save(update_fields=["state", "to_fix_file", *values])


def sweep(now: datetime) -> int:
    """Take up again what a dead worker or broker left: late, never lost."""
    left = ImportBatch.objects.filter(
        Q(state__in=ImportBatch.WAITING)
        | Q(state__in=ImportBatch.RUNNING, heartbeat_at__lt=now - SILENT_FOR)
    ).select_related("owner")
    for batch in left:
        _ask(batch)
    return len(left)
