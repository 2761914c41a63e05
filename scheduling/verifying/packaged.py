"""Packages that somebody asked for on a page, made by a job."""

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import partial
from itertools import islice
from tempfile import TemporaryFile

from django.core.files import File
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from registry.assess.case_files import case_file_of
from registry.models import Attachment, OwnerRecord, Record, RecordPackage
from registry.models.packages import KEPT_FOR
from registry.proof.cells import csv_lines
from registry.services.log import LogError, number_all
from registry.services.log_keys import LogKeyError
from registry.services.packages import Extra, Scope, Source, write_package
from registry.verifying import differences
from scheduling.messages.causes import note_package
from scheduling.verifying import MORE
from scheduling.verifying.schedule_rows import of_the_schedule

MOST = 20
ALSO: list[Callable[[Source], Iterator[Extra]]] = []
"""What an app above this one adds to every package."""
REMOVED = OwnerRecord.Change.REMOVED


def make_package(
    package: RecordPackage, *, now: datetime, on_piece: Callable[[int], None] = lambda count: None
) -> None:
    """Written beside the book and kept when it is whole. A ledger that does not hold is not given
    out: the package says which, and what differs."""
    scope = scope_of(package)
    number_all(scope.owner, now=now)
    package.records = Record.objects.filter(system__in=scope.of_systems().order_by()).count()
    package.save(update_fields=["records"])
    refused = [str(one) for one in islice(differences(scope.of_systems(), more=MORE), MOST)]
    try:
        if not refused:
            _write(package, scope, now, on_piece)
    except (LogError, LogKeyError) as error:
        refused = [str(error)]
    package.refused = refused
    package.save()
    forget_old(now)
    note_package(package, now)


def _write(
    package: RecordPackage, scope: Scope, now: datetime, on_piece: Callable[[int], None]
) -> None:
    with TemporaryFile() as out:
        package.manifest_sha256 = write_package(
            out, scope=scope, made_by=package.asked_by, now=now,
            more=partial(everything_beside, now=now),
            on_row=lambda: on_piece(1),
        )  # fmt: skip
        package.bytes = out.tell()
        out.seek(0)
        package.made_at = now
        package.file.save(f"{package.uuid}.zip", File(out), save=False)


def scope_of(package: RecordPackage) -> Scope:
    return Scope(
        owner=package.owner,
        sites=tuple(package.sites),
        systems=tuple(package.systems),
        since=package.since,
        until=package.until,
        kinds=tuple(package.kinds),
    )


def attachments(source: Source) -> Iterator[Extra]:
    """The files of the records that are there in full; one that was taken back or is gone is left
    out, and the program that checks the package counts each by itself."""
    files = Attachment.objects.filter(
        record__in=source.asked_for().order_by(), taken_back_by__isnull=True
    )
    for row in files.select_related("record").order_by("pk").iterator(500):
        if row.is_intact():
            name = f"attachments/{row.record.uuid}/{row.uuid}-{row.name}"
            with row.open() as file:
                yield name, file.chunks(), f"Of record {row.record.sequence}."


def directory(source: Source) -> Iterator[Extra]:
    """Who was called what, and since when, from the owner's own ledger."""
    rows = source.owner_records().filter(subject="person").exclude(change=REMOVED)
    if rows.exists():
        names = csv_lines(("id", "name", "since_utc", "hash"), _names(rows))
        yield "names.csv", (line.encode() for line in names), "Who was called what, and since when."


def _names(rows: QuerySet[OwnerRecord]) -> Iterator[tuple[str, str, str, str]]:
    for row in rows.iterator(500):
        since = row.recorded_at.astimezone(UTC).isoformat(timespec="seconds")
        yield row.key, row.facts["name"], since, row.hash


def case_files(source: Source, now: datetime) -> Iterator[Extra]:
    """What each score rests on, where the whole ledgers were asked for: it tells of all of them."""
    scope = source.scope
    if scope.since or scope.until or scope.kinds:
        return
    for system in scope.of_systems().order_by("uuid").iterator(500):
        written = json.dumps(case_file_of(system, now), indent=1).encode()
        yield (
            f"cases/{system.uuid}.json",
            [written],
            f"What the score of {system.tag} rests on, to be judged again.",
        )


def everything_beside(source: Source, now: datetime) -> Iterator[Extra]:
    yield from attachments(source)
    yield from directory(source)
    yield from of_the_schedule(source)
    yield from case_files(source, now)
    for more in ALSO:
        yield from more(source)


def forget_old(now: datetime) -> None:
    """The files; that a package was made, for whom and of what, stays."""
    for package in RecordPackage.objects.filter(made_at__lt=now - KEPT_FOR).exclude(file=""):
        package.file.delete()


def given_up(package: RecordPackage, words: str) -> None:
    package.refused = [_("It could not be made. %(words)s") % {"words": words}]
    package.save(update_fields=["refused"])
