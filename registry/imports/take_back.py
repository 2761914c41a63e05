"""A load taken back: nothing is deleted, every record of it is withdrawn, its systems leave the
register. Possible until the first record is written on one of them."""

from collections.abc import Iterator
from datetime import datetime
from itertools import islice

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from registry.kinds.facts import SYSTEM_ENTERED, WITHDRAWN
from registry.models import (
    Assessment,
    AtmosphereSpan,
    ImportBatch,
    PipeRun,
    Record,
    RowToFix,
    System,
    User,
)
from registry.services.assessments import follow_ledger
from registry.services.derive import rederive_many
from registry.services.ledger import chain
from registry.signals import systems_taken_back

TOGETHER = 500
State = ImportBatch.State


class TakenBackTooLate(Exception):
    """Somebody has written on what was loaded; the message says where."""


@transaction.atomic
def take_back(batch: ImportBatch, *, taken_back_by: User, now: datetime) -> int:
    """Withdraw what the load wrote; gives the number of systems that left the register."""
    held = ImportBatch.objects.select_for_update().get(pk=batch.pk)
    if held.state != State.LOADED:
        raise TakenBackTooLate(_("Nothing is loaded from this file."))
    written = Record.objects.filter(
        system__site__owner=held.owner, recorded_at=_loaded_at(held),
        recorded_by=held.loaded_by,
    )  # fmt: skip
    pks = sorted(set(written.order_by().values_list("system_id", flat=True)))
    left = 0
    for chunk in _chunks(pks):
        left += _take_back_chunk(chunk, held, taken_back_by, now)
    held.state, held.taken_back_at, held.taken_back_by = State.TAKEN_BACK, now, taken_back_by
    held.save(update_fields=["state", "taken_back_at", "taken_back_by"])
    batch.refresh_from_db()
    return left


def is_open_to_taking_back(batch: ImportBatch) -> bool:
    """Whether nothing has been written since on any system of the load."""
    if batch.state != State.LOADED:
        return False
    mine = System.objects.filter(records__recorded_at=_loaded_at(batch),
                                 site__owner=batch.owner)  # fmt: skip
    return not Record.objects.filter(
        system__in=mine.values("pk"), recorded_at__gt=_loaded_at(batch)
    ).exists()


def _loaded_at(batch: ImportBatch) -> datetime:
    """The instant that every record of the load bears."""
    assert batch.load_started_at is not None
    return batch.load_started_at


def _chunks(pks: list[int]) -> Iterator[list[int]]:
    rest = iter(pks)
    while chunk := list(islice(rest, TOGETHER)):
        yield chunk


def _take_back_chunk(pks: list[int], batch: ImportBatch, by: User, now: datetime) -> int:
    systems = {
        system.pk: system
        for system in System.objects.filter(pk__in=pks)
        .select_related("site__owner")
        .select_for_update(of=("self",))
        .order_by("pk")
    }
    _check_untouched(systems, batch)
    records = list(
        Record.objects.filter(system__in=systems, recorded_at=_loaded_at(batch))
        .select_related("recorded_by")
        .order_by("system_id", "sequence")
    )
    reason = f"The load of “{batch.file_name}” was taken back."
    withdrawals = [
        chain(
            system=systems[record.system_id], now=now, kind=WITHDRAWN.code,
            occurred_at=record.occurred_at, details={"reason": reason}, recorded_by=by,
            supersedes=record,
        )
        for record in records
    ]  # fmt: skip
    Record.objects.bulk_create(withdrawals)
    PipeRun.objects.filter(record__in=records).update(is_withdrawn=True)
    RowToFix.objects.filter(system__in=systems, found_at=_loaded_at(batch)).delete()
    return _leave(systems, records, now)


def _check_untouched(systems: dict[int, System], batch: ImportBatch) -> None:
    last = Record.objects.filter(system__in=systems).order_by().values("system")
    later = (
        last.annotate(last=Max("recorded_at"))
        .filter(last__gt=_loaded_at(batch))
        .order_by("system")
        .first()
    )
    if later:
        raise TakenBackTooLate(
            _(
                "The load can no longer be taken back: a record was written on %(system)s since. "
                "Correct the register instead."
            )
            % {"system": systems[later["system"]].tag}
        )


def _leave(systems: dict[int, System], records: list[Record], now: datetime) -> int:
    """Systems that the load entered leave the register; those that were there are derived again."""
    entered = {record.system_id for record in records if record.kind == SYSTEM_ENTERED.code}
    for pk, system in systems.items():
        system.taken_back_at = now if pk in entered else None
    System.objects.bulk_update(
        systems.values(), ["next_sequence", "head_hash", "taken_back_at"], batch_size=200
    )
    AtmosphereSpan.objects.filter(system__in=entered).delete()
    Assessment.objects.filter(system__in=entered).delete()
    systems_taken_back.send(sender=System, systems=sorted(entered), now=now)
    stay = [system for pk, system in systems.items() if pk not in entered]
    follow_ledger(rederive_many(stay, now=now), now)
    return len(entered)
