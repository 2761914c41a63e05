"""The bridge from ledger rows to the pure derivation of the atmosphere, and back to spans."""

from datetime import datetime, time, timedelta

from registry.atmosphere import LedgerItem, Policy, Span, SystemFacts, derive
from registry.models import AtmosphereSpan, OwnerPolicy, System

HORIZON = timedelta(days=3 * 366)
PREFIXES = ("event.", "reading.", "inerting.", "register.amended")


def system_facts(system: System) -> SystemFacts:
    policy = OwnerPolicy.for_owner(system.site.owner)
    return SystemFacts(
        kind=system.kind,
        gas_supply=system.gas_supply,
        supply_n2_percent=system.supply_n2_percent,
        volume_m3=system.volume().m3 or None,
        service_pressure_gauge_pa=system.service_pressure_gauge_pa,
        generator_flow_m3_s=system.generator_flow_m3_s,
        atmosphere_pa=system.site.atmosphere_pa,
        installed_at=datetime.combine(system.installed_on, time.min, tzinfo=system.site.zone),
        policy=Policy(
            target_n2_percent=policy.target_n2_percent,
            confirming_days=tuple(policy.confirming_days),
            repeat_days=policy.confirming_repeat_days,
        ),
    )


def ledger_items(records) -> list[LedgerItem]:
    return [
        LedgerItem(
            id=row.pk,
            sequence=row.sequence,
            kind=row.kind,
            occurred_at=row.occurred_at,
            details=row.details,
        )
        for row in records
        if row.kind.startswith(PREFIXES)
    ]


def derive_spans(system: System, records, *, now: datetime) -> tuple[Span, ...]:
    """The atmosphere over time as these records tell it, with what time alone will bring."""
    return derive(system_facts(system), ledger_items(records), now + HORIZON)


def rederive(system: System, *, now: datetime) -> None:
    """Derive the atmosphere again from the current ledger and store it in place of the old."""
    spans = derive_spans(system, system.records.current().in_order(), now=now)
    system.spans.all().delete()
    AtmosphereSpan.objects.bulk_create(
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
    )
