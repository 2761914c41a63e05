"""Rows of a system as what the derivation of its atmosphere takes."""

from datetime import datetime, time

from registry.atmosphere import LedgerItem, Policy, SystemFacts
from registry.models import OwnerPolicy, System

PREFIXES = ("event.", "reading.", "inerting.", "register.amended")


def system_facts(
    system: System, *, policy: OwnerPolicy | None = None, volume_m3: float | None = None
) -> SystemFacts:
    """Policy and volume may be given by a caller who has them for many systems at once."""
    policy = policy or OwnerPolicy.for_owner(system.site.owner)
    volume_m3 = system.volume().m3 if volume_m3 is None else volume_m3
    return SystemFacts(
        kind=system.kind,
        gas_supply=system.gas_supply,
        supply_n2_percent=system.supply_n2_percent,
        volume_m3=volume_m3 or None,
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
