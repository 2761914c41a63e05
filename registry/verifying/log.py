"""The owner's log against the records in it, its own nodes, and all that was signed of it."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from functools import partial
from itertools import chain

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from registry.models import LogCheckpoint, LoggedSystem, LogKey, LogLeaf, OwnerLog, OwnerRecord
from registry.proof.checkpoints import Checkpoint
from registry.proof.notes import NoteError, Verifier, parse_note
from registry.proof.tree import Growth
from registry.services.log import HASH, TILE, leaf_of, reader
from registry.verifying.book import Check
from registry.verifying.loading import Held


def in_log(chunk: Sequence[Held]) -> Check:
    """Whether the records that were numbered are there, and are those that were numbered."""
    systems = [one.system.pk for one in chunk]
    logged = LoggedSystem.objects.filter(system__in=systems)
    leaves = LogLeaf.objects.filter(record__system__in=systems).select_related("log")
    return partial(
        _check,
        dict(logged.values_list("system_id", "count")),
        {leaf.record_id: leaf for leaf in leaves if leaf.record_id},
    )


def _check(logged: dict[int, int], leaves: dict[int, LogLeaf], one: Held) -> Iterator[str]:
    count, number = logged.get(one.system.pk, 0), -1
    for row in one.records:
        leaf = leaves.get(row.pk)
        if leaf is None:
            if row.sequence <= count:
                yield _("Record %(number)s was in the log, and is not any more.") % {
                    "number": row.sequence
                }
            continue
        if leaf.hash != row.hash or leaf.log.owner_id != one.system.site.owner_id:
            yield _("Record %(number)s is another than the one that the log holds.") % {
                "number": row.sequence
            }
        if leaf.number <= number or row.sequence > count:
            yield _("Record %(number)s is not in the log where it should be.") % {
                "number": row.sequence
            }
        number = leaf.number
    last = one.records[-1].sequence if one.records else 0
    if last < count:
        yield _(
            "The log holds %(count)s records of this system, and the last one here is number "
            "%(last)s: records are missing at the end."
        ) % {"count": count, "last": last}


def own_in_log(one: OwnerLog) -> Iterator[str]:
    """The same of the records of the owner's own ledger."""
    rows = OwnerRecord.objects.filter(ledger__owner=one.owner_id).order_by("sequence")
    leaves = {leaf.owner_record_id: leaf for leaf in one.leaves.filter(record=None)}
    number, last = -1, 0
    for row in rows.iterator():
        leaf, last = leaves.pop(row.pk, None), row.sequence
        if (leaf is None) == (row.sequence <= one.owner_records):
            yield _("Record %(number)s of the owner's ledger is not where the log has it.") % {
                "number": row.sequence
            }
        elif leaf and (leaf.hash != row.hash or leaf.number <= number):
            yield _("Record %(number)s of the owner's ledger is another than the log holds.") % {
                "number": row.sequence
            }
        number = leaf.number if leaf else number
    if leaves or last < one.owner_records:
        yield _("The log holds records of the owner's ledger that are not there any more.")


def log_differences(logs: QuerySet[OwnerLog]) -> Iterator[str]:
    """What does not hold of the logs themselves, each read through once."""
    for one in logs.order_by("pk"):
        for what in chain(_of_log(one), own_in_log(one)):
            yield f"{one}: {what}"


def _of_log(one: OwnerLog) -> Iterator[str]:
    nodes = {(row.level, row.number): row.hash for row in one.nodes.all()}
    checkpoints = {row.size: row for row in one.checkpoints.all()}
    keys = keys_of(one)
    growth = Growth()
    for number, hash in one.leaves.order_by("number").values_list("number", "hash").iterator():
        if number != growth.size or not HASH.fullmatch(hash):
            yield _("Number %(number)s is missing or is no hash.") % {"number": growth.size}
            return
        growth, full = growth.add(leaf_of(hash))
        for node in full[TILE:]:
            if nodes.pop((node.level, node.number), "") != node.hash.hex():
                yield _("The node %(level)s/%(number)s is not what its leaves give.") % {
                    "level": node.level,
                    "number": node.number,
                }
        if growth.size in checkpoints:
            yield from _wrong_checkpoint(one, checkpoints.pop(growth.size), growth, keys)
    if growth.size != one.size or nodes:
        yield _("It should hold %(size)s records, and holds %(there)s.") % {
            "size": one.size,
            "there": growth.size,
        }
    for size in sorted(checkpoints):
        if size:  # one of an empty log was signed for no record
            yield _("A checkpoint of %(size)s records was signed, and they are not there.") % {
                "size": size
            }


def _wrong_checkpoint(
    one: OwnerLog, row: LogCheckpoint, growth: Growth, keys: Sequence[Verifier]
) -> Iterator[str]:
    size = {"size": row.size}
    try:
        note = parse_note(row.note)
        signer = note.verified(keys)[0]
        checkpoint = Checkpoint.from_text(note.text)
    except NoteError:
        yield _("The checkpoint of %(size)s records is not signed with a key of this log.") % size
        return
    if checkpoint != Checkpoint(signer.name, growth.size, growth.root):
        yield _("The checkpoint of %(size)s records was signed for other records.") % size


def against_checkpoint(text: str, among: QuerySet[OwnerLog] | None = None) -> Iterator[str]:
    """Whether the book goes on from a checkpoint that somebody kept; NoteError where it is none."""
    note = parse_note(text)
    kept = Checkpoint.from_text(note.text)
    logs = OwnerLog.objects.all() if among is None else among
    named = Q(origin=kept.origin) | Q(keys__vkey__startswith=f"{kept.origin}+")
    one = logs.filter(named).distinct().first()
    if one is None:
        yield _("This book has no log of the name %(origin)s.") % {"origin": kept.origin}
        return
    note.verified(keys_of(one))
    size = {"size": kept.size}
    epoch = _restored_before(one, kept)
    if epoch:
        yield _(
            "The checkpoint covers %(size)s records. The book was restored on %(when)s from a "
            "backup that had %(there)s of them: what was recorded in between is not in it."
        ) % (size | {"when": f"{epoch.made_at:%Y-%m-%d}", "there": epoch.size})
    elif kept.size > one.size:
        yield _("The log had %(size)s records when the checkpoint was made, and has %(now)s.") % (
            size | {"now": one.size}
        )
    elif Growth.at(kept.size, reader(one)).root != kept.root:
        yield _("The log does not go on from the checkpoint of %(size)s records.") % size


def _restored_before(one: OwnerLog, kept: Checkpoint) -> LogKey | None:
    """The new epoch that began with fewer records than this checkpoint of an older one covers."""
    if kept.origin == one.origin:
        return None
    keys = list(one.keys.order_by("pk"))
    last = max(at for at, key in enumerate(keys) if key.vkey.startswith(f"{kept.origin}+"))
    later = (key for key in keys[last + 1 :] if key.reason == LogKey.Reason.RESTORED)
    return next((key for key in later if key.size < kept.size), None)


def keys_of(one: OwnerLog) -> list[Verifier]:
    """Those that can be read: what one signed that somebody made unreadable has no key then."""
    keys = []
    for key in one.keys.all():
        with suppress(NoteError):
            keys.append(Verifier.from_vkey(key.vkey))
    return keys
