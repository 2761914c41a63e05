"""Files against the records that hold their digests."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import partial

from django.utils.translation import gettext as _

from registry.kinds.events import TOLD
from registry.kinds.facts import FILE_TAKEN_BACK, WITHDRAWN
from registry.models import Attachment
from registry.verifying import Check, Held

Files = defaultdict[tuple[int, int], list[Attachment]]
"""By system and record."""


def attachments_of(chunk: Sequence[Held]) -> Check:
    rows: Files = defaultdict(list)
    systems = [one.system.pk for one in chunk]
    for row in Attachment.objects.filter(system__in=systems).order_by("pk"):
        rows[row.system_id, row.record_id].append(row)
    return partial(_check, rows)


def _taken_back(one: Held) -> dict[tuple[int, str], int]:
    """By number of its record and name with digest, the first record that took a file back."""
    by_pk = {record.pk: record for record in one.records}
    back: dict[tuple[int, str], int] = {}
    for row in one.records:
        if row.kind == FILE_TAKEN_BACK.code:
            back.setdefault((row.details["of"], row.details["file"]), row.pk)
        elif row.kind == WITHDRAWN.code and row.supersedes_id in by_pk:
            of = by_pk[row.supersedes_id]
            for said in filter(None, of.details.get("files", "").split("; ")):
                back.setdefault((of.sequence, said), row.pk)
    return back


def _check(rows: Files, one: Held) -> Iterator[str]:
    """Each record has the files it names, and each file is the one that was kept; a photo told at
    a sign may have been erased on request, which its row says."""
    back = _taken_back(one)
    for record in one.records:
        own = rows.pop((one.system.pk, record.pk), [])
        said = "; ".join(f"{row.name} {row.sha256}" for row in own)
        if said != record.details.get("files", ""):
            yield _("The files kept for record %(number)s are not those it names.") % {
                "number": record.sequence
            }
        for row in own:
            if row.taken_back_by_id != back.get((record.sequence, row.said)):
                yield _(
                    "Whether “%(file)s” of record %(number)s was taken back is not as told."
                ) % {
                    "file": row.name,
                    "number": record.sequence,
                }
            is_erased = row.erased_at and record.kind == TOLD.code
            if not is_erased and not row.is_intact():
                yield _(
                    "“%(file)s” of record %(number)s is gone, or is not the file that was kept."
                ) % {"file": row.name, "number": record.sequence}
    strays = [key for key in rows if key[0] == one.system.pk]
    if strays:
        yield _("%(count)s files are kept for a record of another system.") % {
            "count": sum(len(rows[key]) for key in strays)
        }
