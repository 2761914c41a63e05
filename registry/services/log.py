"""Committed records numbered in one order for each owner, checkpoints, and proofs for records.

A record is written without any of this: numbers come later, from one job at a time, so that they
follow the order of commits. Until then a record is not yet in the log.
"""

import heapq
import logging
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from functools import lru_cache, partial
from itertools import groupby, islice
from typing import TypeVar

from django.db import transaction
from django.db.models import F, Value
from django.db.models.functions import Coalesce

from registry.models import (
    LogCheckpoint,
    LoggedSystem,
    LogLeaf,
    LogNode,
    Organisation,
    OwnerLog,
    OwnerRecord,
    Record,
    System,
)
from registry.proof.checkpoints import Checkpoint, LogProof
from registry.proof.notes import parse_note
from registry.proof.tree import Growth, Node, ReadNode, inclusion_proof, leaf_hash, node_hash
from registry.services.log_keys import LogKeyError, make_key, new_origin, signer_of

log = logging.getLogger(__name__)

BATCH = 5000
TILE = 8
"""Nodes below this level, over fewer than 256 leaves, are worked out when they are asked for."""
KEPT_NODES, KEPT_TILES = 10_000, 200
HASH = re.compile(r"[0-9a-f]{64}")
Row = TypeVar("Row", Record, OwnerRecord)


class LogError(Exception):
    """The log was changed behind the back of this program; nothing more of it is signed."""


def log_of(owner: Organisation, *, now: datetime) -> OwnerLog:
    """The owner's log, begun with its first key when it is asked for first."""
    with transaction.atomic():
        found, is_new = OwnerLog.objects.get_or_create(
            owner=owner, defaults={"origin": new_origin()}
        )
        if is_new:
            make_key(found, now=now)
    return found


def number_records(owner: Organisation, *, now: datetime, most: int = BATCH) -> int:
    """Put committed records into the owner's log, at most so many; returns how many."""
    log_of(owner, now=now)
    with transaction.atomic():
        held = OwnerLog.objects.select_for_update().get(owner=owner)
        records = list(islice(_all_waiting(held, most), most))
        growth = Growth.at(held.size, reader(held))
        leaves, nodes = [], []
        for record in records:
            leaves.append(_leaf(held, growth.size, record))
            growth, full = growth.add(leaf_of(record.hash))
            nodes += [_row(held, node) for node in full if node.level >= TILE]
        LogLeaf.objects.bulk_create(leaves, batch_size=1000)
        LogNode.objects.bulk_create(nodes)
        _count([row for row in records if isinstance(row, Record)])
        held.owner_records += sum(isinstance(row, OwnerRecord) for row in records)
        held.size = growth.size
        held.save(update_fields=["size", "owner_records"])
    return len(records)


def number_all(
    owner: Organisation, *, now: datetime, on_piece: Callable[[int], None] = lambda count: None
) -> int:
    """Everything that is committed, a batch in each transaction."""
    added = 0
    while count := number_records(owner, now=now):
        added += count
        on_piece(count)
        if count < BATCH:
            break
    return added


def number_and_checkpoint(
    now: datetime, on_piece: Callable[[int], None] = lambda count: None
) -> list[tuple[Organisation, int, LogCheckpoint]]:
    """Of every owner: how many records were put into its log, and how far it is signed now. A log
    that was changed from outside stays as it is; the check of the whole book says so."""
    done = []
    owners = Organisation.objects.filter(sites__systems__isnull=False).distinct()
    for owner in owners.order_by("pk"):
        added = number_all(owner, now=now, on_piece=on_piece)
        try:
            done.append((owner, added, make_checkpoint(owner, now=now)))
        except (LogError, LogKeyError):
            log.exception("log.unsigned owner=%s", owner.pk)
    return done


def _leaf(held: OwnerLog, number: int, row: Record | OwnerRecord) -> LogLeaf:
    of = {"record": row} if isinstance(row, Record) else {"owner_record": row}
    return LogLeaf(log=held, number=number, hash=row.hash, **of)


def _all_waiting(held: OwnerLog, most: int) -> Iterator[Record | OwnerRecord]:
    """The owner's own records between those of its systems, by when they were recorded."""
    systems, own = _waiting(held.owner, most), _own_waiting(held, most)
    return heapq.merge(systems, own, key=lambda row: row.recorded_at)


def _own_waiting(held: OwnerLog, most: int) -> Iterator[OwnerRecord]:
    rows = OwnerRecord.objects.filter(
        ledger__owner=held.owner_id, sequence__gt=held.owner_records
    ).order_by("sequence")
    return _unbroken(rows[:most], held.owner_records)


def _waiting(owner: Organisation, most: int) -> Iterator[Record]:
    """Each system's records in their order, and those of all in the order they were recorded, as
    far as that is possible. A system whose next record is missing waits, and says so in the log."""
    numbered = dict(
        System.objects.filter(site__owner=owner)
        .annotate(numbered=Coalesce(F("logged__count"), Value(0)))
        .filter(next_sequence__gt=F("numbered") + 1)
        .order_by("pk")
        .values_list("pk", "numbered")[:most]
    )
    rows = (
        Record.objects.filter(system__in=numbered)
        .annotate(numbered=Coalesce(F("system__logged__count"), Value(0)))
        .filter(sequence__gt=F("numbered"))
        .order_by("system", "sequence")[:most]
    )
    runs = [
        list(_unbroken(run, numbered[system]))
        for system, run in groupby(rows, key=lambda row: row.system_id)
    ]
    return heapq.merge(*runs, key=lambda row: row.recorded_at)


def _unbroken(rows: Iterable[Row], numbered: int) -> Iterator[Row]:
    for expected, row in enumerate(rows, start=numbered + 1):
        if row.sequence != expected or not HASH.fullmatch(row.hash):
            log.error("log.refused record=%s", row)
            return
        yield row


def _count(records: list[Record]) -> None:
    last = {row.system_id: row.sequence for row in records}
    LoggedSystem.objects.bulk_create(
        (LoggedSystem(system_id=system, count=count) for system, count in last.items()),
        update_conflicts=True,
        unique_fields=["system"],
        update_fields=["count"],
    )


def _row(held: OwnerLog, node: Node) -> LogNode:
    return LogNode(log=held, level=node.level, number=node.number, hash=node.hash.hex())


def leaf_of(hash: str) -> bytes:
    return leaf_hash(bytes.fromhex(hash))


def reader(held: OwnerLog) -> ReadNode:
    """Nodes from the database; those of a tile of 256 leaves from its leaves. The last of each
    are kept, since proofs of neighbours share most of their way."""

    @lru_cache(KEPT_NODES)
    def node(level: int, number: int) -> bytes:
        return bytes.fromhex(held.nodes.get(level=level, number=number).hash)

    tile_of = lru_cache(KEPT_TILES)(partial(_tile, held))

    def read(level: int, number: int) -> bytes:
        if level >= TILE:
            return node(level, number)
        tile = number << level >> TILE
        return tile_of(tile)[level][number - (tile << TILE >> level)]

    return read


def _tile(held: OwnerLog, tile: int) -> list[list[bytes]]:
    """The full nodes over the leaves of a tile, by level."""
    begin = tile << TILE
    leaves = held.leaves.filter(number__gte=begin, number__lt=begin + (1 << TILE))
    levels = [[leaf_of(hash) for hash in leaves.order_by("number").values_list("hash", flat=True)]]
    while len(levels) <= TILE:
        below = levels[-1]
        levels.append([node_hash(*below[at : at + 2]) for at in range(0, len(below) - 1, 2)])
    return levels


def make_checkpoint(owner: Organisation, *, now: datetime) -> LogCheckpoint:
    """The log as it stands, signed; the last checkpoint again where nothing was added since."""
    log_of(owner, now=now)
    with transaction.atomic():
        held = OwnerLog.objects.select_for_update().get(owner=owner)
        last = held.checkpoints.order_by("size").last()
        if last and last.size == held.size:
            return last
        read = reader(held)
        if last:
            _check_goes_on(held, last, read)
        checkpoint = Checkpoint(held.origin, held.size, Growth.at(held.size, read).root)
        note = checkpoint.signed_by(signer_of(held))
        return held.checkpoints.create(size=held.size, note=str(note), made_at=now)


def _check_goes_on(held: OwnerLog, last: LogCheckpoint, read: ReadNode) -> None:
    """A log that signed two states of which none holds the other is worth nothing any more."""
    before = Checkpoint.from_text(parse_note(last.note).text)
    is_shorter = held.size < before.size
    if is_shorter or Growth.at(before.size, read).root != before.root:
        raise LogError(
            f"The log {held} does not go on from its checkpoint of {before.size} records."
        )


def proof_of(record: Record, *, is_first: bool = False) -> LogProof | None:
    """That the record is in the log, as of the newest checkpoint, or of the first that holds it;
    None while it is not yet."""
    leaf = LogLeaf.objects.filter(record=record).select_related("log").first()
    if leaf is None:
        return None
    holding = leaf.log.checkpoints.filter(size__gt=leaf.number).order_by("size")
    chosen = holding.first() if is_first else holding.last()
    if chosen is None:
        return None
    hashes = inclusion_proof(leaf.number, chosen.size, reader(leaf.log))
    return LogProof(leaf.number, tuple(hashes), parse_note(chosen.note))


def prove(record: Record, *, now: datetime) -> LogProof | None:
    """The proof of a record that leaves the book now, made at once where the hourly job has not
    come to it; None where the log cannot be signed, which the paper then says."""
    owner = record.system.site.owner
    try:
        if (proof := proof_of(record, is_first=True)) is None:
            number_all(owner, now=now)
            make_checkpoint(owner, now=now)
            proof = proof_of(record, is_first=True)
    except (LogError, LogKeyError):
        log.exception("log.unproved record=%s", record.pk)
        return None
    return proof
