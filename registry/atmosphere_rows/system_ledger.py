"""Rows of a system as what the derivation of its atmosphere takes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import lru_cache

from registry.atmosphere import LedgerItem, Policy, SystemFacts
from registry.corrosion.gas import site_atmosphere
from registry.kinds import KINDS
from registry.models import AtmosphereSpan, OwnerPolicy, Record, System

HORIZON = timedelta(days=3 * 366)
"""How far ahead of its record the atmosphere is derived and stored."""


@dataclass(frozen=True)
class SystemLedger:
    """A held system as its current ledger tells it, and the atmosphere as just stored: read once
    for all that follows from a record in its transaction."""

    system: System
    records: Sequence[Record]
    facts: SystemFacts
    spans: Sequence[AtmosphereSpan]

    @property
    def is_whole(self) -> bool:
        """Nothing was corrected or withdrawn: `records` is all that the ledger holds."""
        return len(self.records) == self.system.next_sequence - 1


BEARING = frozenset(code for code, kind in KINDS.items() if kind.bears_on_gas)


def bears_on_gas(kind: str) -> bool:
    """Whether a record of this kind can say anything of the atmosphere."""
    return kind in BEARING


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
        atmosphere_pa=_atmosphere_pa(system.site.altitude_m),
        installed_at=datetime.combine(system.installed_on, time.min, tzinfo=system.site.zone),
        policy=_limits(
            policy.target_n2_percent,
            tuple(policy.confirming_days),
            policy.confirming_repeat_days,
        ),
    )


@lru_cache(maxsize=256)
def _limits(target_n2_percent: float, confirming_days: tuple[int, ...], repeat_days: int) -> Policy:
    return Policy(
        target_n2_percent=target_n2_percent,
        confirming_days=confirming_days,
        repeat_days=repeat_days,
    )


@lru_cache(maxsize=4096)
def _atmosphere_pa(altitude_m: float) -> float:
    return float(site_atmosphere(altitude_m))


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
        if bears_on_gas(row.kind)
    ]
