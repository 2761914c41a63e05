"""Writing into a ledger: checked, chained, derived again, announced, in one transaction."""

from collections.abc import Collection, Mapping
from datetime import UTC, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from registry.chain import Link, record_hash
from registry.kinds import KINDS, DetailsError, answered, check_details
from registry.kinds.facts import SYSTEM_ENTERED, WITHDRAWN
from registry.kinds.parts import FILES
from registry.models import Attachment, InertingRun, PipeRun, Record, System, User
from registry.services.assessments import follow_ledger
from registry.services.derive import rederive
from registry.signals import record_added
from registry.translation import in_english
from registry.words.spoken import Spoken

CLOCK_TOLERANCE = timedelta(minutes=5)


class RecordError(DetailsError):
    """A record that cannot be written; `problems` says which field and what would be right."""


class SentBefore(RecordError):
    """A form that was sent already, and now holds other answers than the record it made then."""

    def __init__(self, earlier: Record):
        super().__init__(
            {
                "": gettext(
                    "This page was sent before, as record {number}, with other answers than now. "
                    "Correct that record if it is wrong; send this once more if it is something "
                    "else."
                ).format(number=earlier.sequence)
            }
        )


def record(
    *,
    system: System,
    kind: str,
    occurred_at: datetime,
    details: Mapping[str, Any],
    recorded_by: User,
    note: str = "",
    supersedes: Record | None = None,
    client_key: UUID | None = None,
    inerting_run: InertingRun | None = None,
    is_held: bool = False,
    now: datetime | None = None,
) -> Record:
    """Write one record; the same `client_key` again returns the record it made the first time, if
    the answers are the same. `is_held`: `system` is what `lock` gave the caller, and nothing but
    this instance was written to its ledger since."""
    now = now or timezone.now()
    with transaction.atomic():
        locked = system if is_held else lock(system)
        if earlier := sent_before(
            locked, client_key, details, kind=kind, occurred_at=occurred_at, note=note,
            recorded_by=recorded_by, supersedes=supersedes, added=(FILES.name,),
        ):  # fmt: skip
            return earlier
        details = _checked(locked, kind, occurred_at, details, supersedes, now)
        written = append(
            system=locked,
            kind=kind,
            occurred_at=occurred_at,
            details=details,
            recorded_by=recorded_by,
            note=note,
            supersedes=supersedes,
            client_key=client_key,
            inerting_run=inerting_run,
            now=now,
        )
        announce(written, now)
    _follow(system, locked)
    return written


def withdraw(
    *, record: Record, reason: str, recorded_by: User, now: datetime | None = None
) -> Record:
    """Take back a record entered by mistake: it stays visible, and no longer counts."""
    now = now or timezone.now()
    with transaction.atomic():
        locked = lock(record.system)
        details = check_details(WITHDRAWN, {"reason": reason.strip()})
        check_not_superseded(record)
        PipeRun.objects.filter(record=record).update(is_withdrawn=True)
        written = append(
            system=locked,
            kind=WITHDRAWN.code,
            occurred_at=record.occurred_at,
            details=details,
            recorded_by=recorded_by,
            supersedes=record,
            now=now,
        )
        Attachment.objects.filter(record=record, taken_back_by=None).update(taken_back_by=written)
        announce(written, now)
    return written


def sent_before(
    system: System,
    client_key: UUID | None,
    details: Mapping[str, Any],
    *,
    added: Collection[str] = (),
    **said: Any,
) -> Record | None:
    """The record that a form made when it was sent before; SentBefore when it says another thing
    by now. `added` names the details that the book wrote beside the answers."""
    earlier = system.records.filter(client_key=client_key).first() if client_key else None
    if earlier is None:
        return None
    answers = {name: value for name, value in earlier.details.items() if name not in added}
    is_same = answers == answered(details)
    if not is_same or any(getattr(earlier, name) != value for name, value in said.items()):
        raise SentBefore(earlier)
    return earlier


def lock(system: System) -> System:
    """The system's row, held until the transaction ends, so that sequence numbers have no race."""
    held = System.objects.select_for_update(of=("self",)).select_related("site__owner__policy")
    return held.get(pk=system.pk)


@in_english()
def append(*, system: System, now: datetime, **fields) -> Record:
    """Chain a record onto a locked ledger; checks and consequences are the caller's."""
    written = chain(system=system, now=now, **fields)
    written.save(force_insert=True)
    system.save(update_fields=["next_sequence", "head_hash"])
    return written


def chain(*, system: System, now: datetime, **fields) -> Record:
    """The next record of a locked system, in memory: the caller saves it and the system's head."""
    record = Record(
        system=system,
        uuid=uuid4(),
        sequence=system.next_sequence,
        recorded_at=now,
        previous_hash=system.head_hash,
        **fields,
    )
    record.hash = record_hash(record.previous_hash, record_body(record))
    system.next_sequence += 1
    system.head_hash = record.hash
    return record


@in_english()
def announce(written: Record, now: datetime) -> None:
    ledger = rederive(written.system, now=now)
    if written.kind != SYSTEM_ENTERED.code:  # without pipe there is nothing to assess
        follow_ledger([ledger], now)
    record_added.send(sender=Record, record=written, now=now, ledger=ledger)


def record_body(record: Record) -> dict[str, Any]:
    """What a record's hash covers: everything that was said, by whom and when."""
    return {
        "system": str(record.system.uuid),
        "sequence": record.sequence,
        "record": str(record.uuid),
        "kind": record.kind,
        "occurred_at": _instant(record.occurred_at),
        "recorded_at": _instant(record.recorded_at),
        "recorded_by": str(record.recorded_by.uuid),
        "details": record.details,
        "note": record.note,
        "supersedes": str(record.supersedes.uuid) if record.supersedes else None,
        "inerting_run": str(record.inerting_run.uuid) if record.inerting_run else None,
    }


def links(system: System) -> list[Link]:
    """The system's whole chain in order, ready for `registry.chain.verify`."""
    rows = system.records.select_related(
        "system", "recorded_by", "supersedes", "inerting_run"
    ).order_by("sequence")
    return [Link(row.sequence, record_body(row), row.previous_hash, row.hash) for row in rows]


def _instant(when: datetime) -> str:
    return when.astimezone(UTC).isoformat(timespec="microseconds")


def _checked(system, kind, occurred_at, details, supersedes, now) -> dict[str, Any]:
    problems: dict[str, str] = {}
    if kind not in KINDS:
        raise RecordError({"kind": gettext("“{kind}” is not a kind of record.").format(kind=kind)})
    allowed = KINDS[kind].system_kinds
    if allowed and system.kind not in allowed:
        problems["kind"] = gettext("{label} does not happen to a {lower} system.").format(
            label=KINDS[kind].label, lower=system.get_kind_display().lower()
        )
    if when := _when_problem(system, occurred_at, now):
        problems["occurred_at"] = when
    if supersedes is not None:
        _check_supersedes(system, supersedes)
    try:
        details = check_details(KINDS[kind], details)
    except DetailsError as error:
        problems |= error.problems
    if problems:
        raise RecordError(problems)
    return dict(details)


def _when_problem(system: System, occurred_at: datetime, now: datetime) -> str | None:
    if timezone.is_naive(occurred_at):
        return gettext("A time needs a zone; give it in the site's time zone.")
    if occurred_at > now + CLOCK_TOLERANCE:
        return gettext("This is in the future; a record says what has happened already.")
    zone = system.site.zone
    first = datetime.combine(system.installed_on, time.min, tzinfo=zone)
    if occurred_at < first:
        return gettext(
            "This is before the system was installed ({installed_on:%-d %B %Y}); "
            "correct the date here or the installation date in the register."
        ).format(installed_on=Spoken(system.installed_on))
    return None


def _check_supersedes(system: System, supersedes: Record) -> None:
    if supersedes.system_id != system.pk:
        raise RecordError({"supersedes": gettext("A correction belongs to the same system.")})
    check_not_superseded(supersedes)


def check_not_superseded(record: Record) -> None:
    later = Record.objects.filter(supersedes=record).select_related("recorded_by").first()
    if later:
        raise RecordError(
            {
                "supersedes": gettext(
                    "{recorded_by} already corrected this record as number {sequence}; "
                    "correct that one instead."
                ).format(recorded_by=later.recorded_by, sequence=later.sequence)
            }
        )


def _follow(system: System, locked: System) -> None:
    system.next_sequence, system.head_hash = locked.next_sequence, locked.head_hash
