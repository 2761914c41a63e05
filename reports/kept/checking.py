"""How a report can be checked: the verdict of the ledgers it was made from, and its proof."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Min
from django.utils.translation import gettext, ngettext

from registry.models import Organisation, Record, System, Verdict
from registry.services.log import LogError, make_checkpoint, number_all, prove
from registry.services.log_keys import LogKeyError
from registry.verifying import examined
from reports.kept.layout import Block, Codes, Section, Words
from reports.kept.words import moment_words
from reports.printing import qr_svg
from scheduling.verifying import MORE

log = logging.getLogger(__name__)

MOST_AT_ONCE = 500
"""More ledgers than these are not held against the book while somebody waits."""
FOUND = 10


@dataclass(frozen=True)
class LedgerVerdict:
    """`found`: what does not hold, each as a sentence; `words`: what was checked, and when."""

    words: str
    found: tuple[str, ...] = ()

    @property
    def mark(self) -> str:
        return gettext("The ledger does not hold") if self.found else ""


def verdict_of(keys: Sequence[int], *, now: datetime) -> LedgerVerdict:
    """Checked now where there are few; else what the last nightly check said, which is told."""
    if len(keys) <= MOST_AT_ONCE:
        return _checked_now(keys)
    rows = Verdict.objects.filter(system__in=keys)
    against = rows.against().select_related("system__site").order_by("system__tag")[:FOUND]
    found = tuple(
        f"{row.system.tag}, {row.system.site.name}: {what}"
        for row in against
        for what in row.differences
    )[:FOUND]
    oldest = rows.aggregate(at=Min("checked_at"))["at"]
    if oldest is None:
        return LedgerVerdict(gettext("The ledgers of these systems were not checked yet."), found)
    words = gettext(
        "{checked} of {systems} ledgers were held against the book by the nightly check, the "
        "first of them at {moment} UTC."
    ).format(checked=rows.count(), systems=len(keys), moment=f"{oldest:%Y-%m-%d %H:%M}")
    return LedgerVerdict(words, found)


def _checked_now(keys: Sequence[int]) -> LedgerVerdict:
    records, found = 0, []
    for one in examined(System.objects.filter(pk__in=keys), MORE):
        records += one.records
        found += [f"{one.system.tag}, {one.system.site.name}: {what}" for what in one.found]
    if found:
        words = gettext("Held against the book when this was made: it does not agree.")
        return LedgerVerdict(words, tuple(found[:FOUND]))
    words = ngettext(
        "Every chain, digest and derived row of {records} record was held against the book when "
        "this was made, and all of them agree.",
        "Every chain, digest and derived row of {records} records was held against the book when "
        "this was made, and all of them agree.",
        records,
    )
    return LedgerVerdict(words.format(records=records))


def of_owner(verdict: LedgerVerdict, owners: Sequence[Organisation], *, now: datetime) -> Section:
    """How to check a report of many systems: by the signed state of the owner's log."""
    blocks: list[Block] = [
        Words(verdict.words),
        Words(
            gettext(
                "It shows that no record was changed or removed after it was written; it does not "
                "show that what was written is true."
            ),
            is_quiet=True,
        ),
    ]
    for owner in owners:
        note = _checkpoint(owner, now)
        if not note:
            words = gettext("The log of {owner} could not be signed when this was made.")
            blocks.append(Words(words.format(owner=owner)))
            continue
        words = gettext(
            "The log of {owner} as signed when this was made. Kept, or uploaded to the page "
            "“Proof” of the book, it shows whether the book still goes on from this day."
        ).format(owner=owner)
        blocks.append(Codes([(words, note)], is_block=True, code=qr_svg(note)))
    return Section(gettext("How to check this paper"), blocks)


def of_record(verdict: LedgerVerdict, record: Record, *, now: datetime) -> Section:
    """How to check a paper that rests on one ledger up to a record."""
    proof = prove(record, now=now)
    zone = record.system.site.zone
    head = record.system.records.latest("sequence")
    rows = [
        (
            gettext("Record {sequence} of {system}, the last that this paper tells of").format(
                sequence=record.sequence, system=record.system.tag
            ),
            record.hash,
        ),
        (
            gettext("Record {sequence}, head of the ledger, written {written}").format(
                sequence=head.sequence, written=moment_words(head.recorded_at, zone)
            ),
            head.hash,
        ),
    ]
    blocks: list[Block] = [
        Words(verdict.words),
        Words(
            gettext(
                "The ledger of {system}, on its page and in its export, must show the same hash "
                "beside the same number."
            ).format(system=record.system.tag),
            is_quiet=True,
        ),
        Codes(rows),
    ]
    if proof is None:
        words = gettext("When this was made, that record was not yet in the signed log.")
        return Section(gettext("How to check this paper"), [*blocks, Words(words, is_quiet=True)])
    words = gettext(
        "The record is in the signed log of the owner; this is the proof of it, and the same as a "
        "QR code, to be kept as a file."
    )
    blocks.append(Codes([(words, str(proof))], is_block=True, code=qr_svg(str(proof))))
    return Section(gettext("How to check this paper"), blocks)


def _checkpoint(owner: Organisation, now: datetime) -> str:
    try:
        number_all(owner, now=now)
        return make_checkpoint(owner, now=now).note
    except (LogError, LogKeyError):
        log.exception("log.unsigned owner=%s", owner.pk)
        return ""
