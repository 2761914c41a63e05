"""The bridge from ledger rows to the pure derivation of the atmosphere, and back to spans."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime

from registry.atmosphere import Span, derive
from registry.atmosphere_rows.system_ledger import HORIZON, SystemLedger, ledger_items, system_facts
from registry.models import AtmosphereSpan, OwnerPolicy, Record, System


def derive_spans(system: System, records, *, now: datetime) -> tuple[Span, ...]:
    """The atmosphere over time as these records tell it, with what time alone will bring."""
    return derive(system_facts(system), ledger_items(records), now + HORIZON)


def rederive(system: System, *, now: datetime) -> SystemLedger:
    """Derive the atmosphere again from the current ledger and store it in place of the old."""
    records = list(system.records.current().in_order())
    facts = system_facts(system)
    rows = _rows(system, derive(facts, ledger_items(records), now + HORIZON))
    system.spans.all().delete()
    return SystemLedger(system, records, facts, AtmosphereSpan.objects.bulk_create(rows))


def rederive_many(systems: Sequence[System], *, now: datetime) -> list[SystemLedger]:
    """As `rederive` for each of one owner's systems, in as many queries for many as for one."""
    if not systems:
        return []
    policy = OwnerPolicy.for_owner(systems[0].site.owner)
    volumes = dict(_chosen(systems).with_volume().values_list("pk", "volume_m3"))
    records = defaultdict(list)
    for record in Record.objects.filter(system__in=systems).current().in_order():
        records[record.system_id].append(record)
    AtmosphereSpan.objects.filter(system__in=systems).delete()
    told = []
    for system in systems:
        facts = system_facts(system, policy=policy, volume_m3=volumes[system.pk])
        own = records[system.pk]
        rows = _rows(system, derive(facts, ledger_items(own), now + HORIZON))
        told.append(SystemLedger(system, own, facts, rows))
    AtmosphereSpan.objects.bulk_create([row for one in told for row in one.spans])
    return told


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
