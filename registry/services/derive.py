"""The bridge from ledger rows to the pure derivations of atmosphere and protection, and back."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from registry import protection
from registry.atmosphere import Span, derive
from registry.atmosphere_rows.system_ledger import (
    HORIZON,
    SystemLedger,
    corrections_of,
    ledger_items,
    protection_items,
    system_facts,
)
from registry.models import AtmosphereSpan, OwnerPolicy, ProtectionSpan, Record, System
from registry.models.protection import AREAS_LENGTH, REASON_LENGTH
from registry.translation import in_english

PROTECTION_FACTS = (
    "starts_at", "state", "state_since", "reason_code", "reason", "areas", "is_planned",
    "unanswered", "cause_id",
)  # fmt: skip


def derive_spans(system: System, records, *, now: datetime) -> tuple[Span, ...]:
    """The atmosphere over time as these records tell it, with what time alone will bring."""
    return derive(system_facts(system), ledger_items(records), now + HORIZON)


@in_english()
def rederive(system: System, *, now: datetime) -> SystemLedger:
    """Derive the atmosphere again from the current ledger and store it in place of the old."""
    records = list(system.records.current().in_order())
    facts = system_facts(system)
    rows = _rows(system, derive(facts, ledger_items(records), now + HORIZON))
    system.spans.all().delete()
    _keep_protection([_protected(system, records, facts.installed_at)])
    return SystemLedger(system, records, facts, AtmosphereSpan.objects.bulk_create(rows))


@in_english()
def rederive_many(
    systems: Sequence[System],
    *,
    now: datetime,
    entered: Mapping[int, Sequence[Record]] | None = None,
) -> list[SystemLedger]:
    """As `rederive` for each of one owner's systems, in as many queries for many as for one.

    `entered`: the whole ledgers of systems that the caller has just entered, by their keys.
    """
    entered = entered or {}
    if not systems:
        return []
    policy = OwnerPolicy.for_owner(systems[0].site.owner)
    volumes = dict(_chosen(systems).with_volume().values_list("pk", "volume_m3"))
    records: dict[int, list[Record]] = defaultdict(list)
    for pk, own in entered.items():
        records[pk] = sorted(own, key=lambda record: (record.occurred_at, record.sequence))
    there = [system.pk for system in systems if system.pk not in entered]
    for record in Record.objects.filter(system__in=there).current().in_order():
        records[record.system_id].append(record)
    AtmosphereSpan.objects.filter(system__in=there).delete()
    ledgers = []
    for system in systems:
        facts = system_facts(system, policy=policy, volume_m3=volumes[system.pk])
        own = records[system.pk]
        rows = _rows(system, derive(facts, ledger_items(own), now + HORIZON))
        ledgers.append(SystemLedger(system, own, facts, rows))
    AtmosphereSpan.objects.bulk_create([row for one in ledgers for row in one.spans])
    _keep_protection(
        [_protected(one.system, one.records, one.facts.installed_at) for one in ledgers]
    )
    return ledgers


def _chosen(systems: Sequence[System]):
    return System.objects.filter(pk__in=[system.pk for system in systems]).order_by()


def _rows(system: System, spans: Sequence[Span]) -> list[AtmosphereSpan]:
    return [
        AtmosphereSpan(
            system=system,
            starts_at=span.starts_at.astimezone(UTC),
            state=span.state,
            state_since=span.state_since.astimezone(UTC),
            reason_code=span.reason_code,
            reason=span.reason,
            cause_id=span.cause_id,
            oxygen_low=span.oxygen_low,
            oxygen_mid=span.oxygen_mid,
            oxygen_high=span.oxygen_high,
        )
        for span in spans
    ]


def _protected(
    system: System, records: Sequence[Record], installed_at: datetime | None
) -> tuple[System, list[ProtectionSpan]]:
    spans = protection.derive(installed_at, protection_items(records), corrections_of(records))
    return system, protection_rows(system, spans)


def protection_rows(system: System, spans: Sequence[protection.Span]) -> list[ProtectionSpan]:
    """As they are stored; a long reason is cut to its column."""
    return [
        ProtectionSpan(
            system=system,
            starts_at=span.starts_at.astimezone(UTC),
            state=span.state,
            state_since=span.state_since.astimezone(UTC),
            reason_code=span.reason_code,
            reason=span.reason[:REASON_LENGTH],
            areas=span.areas[:AREAS_LENGTH],
            is_planned=span.is_planned,
            unanswered=" ".join(span.unanswered),
            cause_id=span.cause_id,
        )
        for span in spans
    ]


def _keep_protection(derived: Sequence[tuple[System, list[ProtectionSpan]]]) -> None:
    """Most records say nothing of protection: then one query finds that all stands already."""
    stored: dict[int, list[ProtectionSpan]] = defaultdict(list)
    for row in ProtectionSpan.objects.filter(system__in=[system.pk for system, _ in derived]):
        stored[row.system_id].append(row)
    gone: list[int] = []
    new: list[ProtectionSpan] = []
    for system, rows in derived:
        before = stored[system.pk]
        same = _common(before, rows)
        gone += [row.pk for row in before[same:]]
        new += rows[same:]
    if gone:
        ProtectionSpan.objects.filter(pk__in=gone).delete()
    if new:
        ProtectionSpan.objects.bulk_create(new)


def _common(before: Sequence[ProtectionSpan], after: Sequence[ProtectionSpan]) -> int:
    """How many of the first spans are as they were."""
    pairs = zip(before, after, strict=False)
    return next(
        (place for place, (one, other) in enumerate(pairs) if _values(one) != _values(other)),
        min(len(before), len(after)),
    )


def _values(span: ProtectionSpan) -> tuple:
    return tuple(getattr(span, name) for name in PROTECTION_FACTS)
