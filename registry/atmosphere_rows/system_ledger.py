"""Rows of a system as what the derivation of its atmosphere takes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import cached_property, lru_cache

from registry.atmosphere import LedgerItem, Policy, SystemFacts
from registry.corrosion.gas import site_atmosphere
from registry.kinds import KINDS
from registry.models import AtmosphereSpan, OwnerPolicy, Record, System
from registry.protection import Condition, standing

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

    @cached_property
    def protection(self) -> Condition | None:
        """Whether the sprinklers would work, with all that stands in the way."""
        return standing(protection_items(self.records), corrections_of(self.records))

    @property
    def is_whole(self) -> bool:
        """Nothing was corrected or withdrawn: `records` is all that the ledger holds."""
        return len(self.records) == self.system.next_sequence - 1


NAMES_ONE = ("ends", "of")
"""Details that may name an impairment by the number of the record that began it."""

PROTECTING = frozenset(code for code, kind in KINDS.items() if kind.protection)
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
        installed_at=installation(system),
        policy=_limits(
            policy.target_n2_percent,
            tuple(policy.confirming_days),
            policy.confirming_repeat_days,
        ),
    )


def installation(system: System) -> datetime:
    """The first instant of its day at the site."""
    return datetime.combine(system.installed_on, time.min, tzinfo=system.site.zone)


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
    return [_item(row) for row in records if bears_on_gas(row.kind)]


def protection_items(records) -> list[LedgerItem]:
    return [_item(row) for row in records if row.kind in PROTECTING]


def _item(row: Record) -> LedgerItem:
    return LedgerItem(
        id=row.pk,
        sequence=row.sequence,
        kind=row.kind,
        occurred_at=row.occurred_at,
        details=row.details,
    )


def corrections_of(records: Iterable[Record]) -> dict[int, int]:
    """By the number of what was corrected the number of what stands for it now, since an end may
    name an impairment that was corrected later. No query unless there are both."""
    protecting = [row for row in records if row.kind in PROTECTING]
    names_one = any(
        str(row.details.get(name, "")).isdecimal() for row in protecting for name in NAMES_ONE
    )
    if not names_one or not any(row.supersedes_id for row in protecting):
        return {}
    pairs = Record.objects.filter(system=protecting[0].system_id, superseded_by__isnull=False)
    return dict(pairs.values_list("sequence", "superseded_by__sequence"))
