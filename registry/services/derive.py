"""The bridge from ledger rows to the pure derivation of the atmosphere, and back to spans."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from registry.atmosphere import Span, derive
from registry.facts import HORIZON, ledger_items, system_facts
from registry.models import AtmosphereSpan, OwnerPolicy, Record, System


def derive_spans(system: System, records, *, now: datetime) -> tuple[Span, ...]:
    """The atmosphere over time as these records tell it, with what time alone will bring."""
    return derive(system_facts(system), ledger_items(records), now + HORIZON)


def rederive(system: System, *, now: datetime) -> None:
    """Derive the atmosphere again from the current ledger and store it in place of the old."""
    spans = derive_spans(system, system.records.current().in_order(), now=now)
    system.spans.all().delete()
    AtmosphereSpan.objects.bulk_create(_rows(system, spans))


def rederive_many(systems: Sequence[System], *, now: datetime) -> None:
    """As `rederive` for each of one owner's systems, in as many queries for many as for one."""
    if not systems:
        return
    policy = OwnerPolicy.for_owner(systems[0].site.owner)
    volumes = dict(_chosen(systems).with_volume().values_list("pk", "volume_m3"))
    records = defaultdict(list)
    for record in Record.objects.filter(system__in=systems).current().in_order():
        records[record.system_id].append(record)
    AtmosphereSpan.objects.filter(system__in=systems).delete()
    rows = []
    for system in systems:
        facts = system_facts(system, policy=policy, volume_m3=volumes[system.pk])
        rows += _rows(system, derive(facts, ledger_items(records[system.pk]), now + HORIZON))
    AtmosphereSpan.objects.bulk_create(rows)


def _chosen(systems: Sequence[System]):
    return System.objects.filter(pk__in=[system.pk for system in systems]).order_by()


def _rows(system: System, spans: Sequence[Span]) -> list[AtmosphereSpan]:
    return [
        AtmosphereSpan(
            system=system,
            starts_at=span.starts_at,
            state=span.state,
            state_since=span.state_since,
            reason_code=span.reason_code,
            reason=span.reason,
            cause_id=span.cause_id,
            oxygen_low=span.oxygen_low,
            oxygen_mid=span.oxygen_mid,
            oxygen_high=span.oxygen_high,
        )
        for span in spans
    ]
