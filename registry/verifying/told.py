"""What was typed at a sign, kept outside the ledger, against the digest that its record holds."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import partial

from django.utils.translation import gettext as _

from registry.kinds.events import TOLD
from registry.models import Record, Telling
from registry.services.telling import digest_of
from registry.verifying.book import Check
from registry.verifying.loading import Held

Tellings = dict[int, list[Telling]]
"""By record."""


def told_of(chunk: Sequence[Held]) -> Check:
    rows: Tellings = defaultdict(list)
    systems = [one.system.pk for one in chunk]
    for row in Telling.objects.filter(record__system__in=systems).order_by("pk"):
        rows[row.record_id].append(row)
    return partial(_check, rows)


def _check(rows: Tellings, one: Held) -> Iterator[str]:
    """What was added to a record that waited already has no digest in a ledger; nor has what was
    erased on request, which the page says."""
    for record in one.records:
        if record.kind != TOLD.code:
            continue
        own = [row for row in rows.get(record.pk, []) if row.client_key == record.client_key]
        if len(own) != 1 or not _is_as_recorded(own[0], record):
            yield _("What was told at the sign, record %(number)s, is not what was typed then.") % {
                "number": record.sequence
            }


def _is_as_recorded(row: Telling, record: Record) -> bool:
    if row.what != record.details.get("what"):
        return False
    if row.is_erased:
        return True
    digest = digest_of(row.salt, row.words, row.contact) if row.has_words else ""
    return digest == record.details.get("told_sha256", "")
