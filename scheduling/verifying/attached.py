"""Files against the records that hold their digests."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import partial

from django.utils.translation import gettext as _

from registry.kinds.events import TOLD
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


def _check(rows: Files, one: Held) -> Iterator[str]:
    """Each record has the files it names, and each file is the one that was kept; a photo told at
    a sign may have been erased on request, which its row says."""
    for record in one.records:
        own = rows.pop((one.system.pk, record.pk), [])
        said = "; ".join(f"{row.name} {row.sha256}" for row in own)
        if said != record.details.get("files", ""):
            yield _("The files kept for record %(number)s are not those it names.") % {
                "number": record.sequence
            }
        for row in own:
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
