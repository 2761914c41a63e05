"""What goes into a derivation and what comes out of it. Oxygen is a mole fraction, 0 to 1."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from registry.atmosphere.policy import Policy
from registry.corrosion.constants import OXYGEN_IN_DRY_AIR, STANDARD_ATMOSPHERE
from registry.corrosion.gas import mixed_fraction, oxygen_from_n2_percent

State = Literal["inert", "in_doubt", "aerated"]
INERT: State = "inert"
IN_DOUBT: State = "in_doubt"
AERATED: State = "aerated"

GAS_FILLED = ("dry", "preaction")
AIR = OXYGEN_IN_DRY_AIR


@lru_cache(maxsize=4096)
def oxygen_beside(n2_percent: float) -> float:
    """A ledger names the same few percentages again and again, and is walked often."""
    return float(oxygen_from_n2_percent(n2_percent))


@dataclass(frozen=True, slots=True)
class Oxygen:
    """An estimate and the range it may lie in."""

    low: float
    mid: float
    high: float

    @classmethod
    def exactly(cls, fraction: float) -> "Oxygen":
        return cls(fraction, fraction, fraction)

    @classmethod
    def read(cls, n2_percent: float, error_percent: float) -> "Oxygen":
        """What a meter showed, give or take its error. More oxygen than in air is meter error."""
        mid = min(oxygen_beside(n2_percent), AIR)
        error = error_percent / 100.0
        return cls(max(0.0, mid - error), mid, min(AIR, mid + error))

    def mixed_with_air(self, share: float) -> "Oxygen":
        return Oxygen(*(float(mixed_fraction(y, share)) for y in (self.low, self.mid, self.high)))

    def perhaps_air(self) -> "Oxygen":
        """Somewhere between what it was and air: the estimate lies half-way for want of better."""
        return Oxygen(self.low, (self.mid + AIR) / 2.0, AIR)

    def presumably_air(self) -> "Oxygen":
        """Taken as air until a reading says otherwise, though some of the old gas may be left."""
        return Oxygen(self.low, AIR, AIR)


@dataclass(frozen=True, slots=True)
class Feed:
    """What makes up the gas that leaks out: unknown, none, cylinders, generator or compressor."""

    kind: str
    n2_percent: float | None = None


@dataclass(frozen=True, slots=True)
class SystemFacts:
    """The register facts that bear on a system's atmosphere, as they stand now."""

    kind: str
    gas_supply: str = "unknown"
    supply_n2_percent: float | None = None
    volume_m3: float | None = None
    service_pressure_gauge_pa: float | None = None
    atmosphere_pa: float = STANDARD_ATMOSPHERE
    installed_at: datetime | None = None
    generator_flow_m3_s: float | None = None  # standard m3/s swept through an open vent
    policy: Policy = field(default_factory=Policy)

    @property
    def is_gas_filled(self) -> bool:
        return self.kind in GAS_FILLED

    @property
    def target_oxygen(self) -> float:
        return oxygen_beside(self.policy.target_n2_percent)

    @property
    def aerated_oxygen(self) -> float:
        return self.policy.aerated_air_share * AIR

    @property
    def service_pressure_pa(self) -> float:
        """Absolute pressure of the gas in service."""
        gauge = self.service_pressure_gauge_pa
        if not gauge:
            gauge = self.policy.usual_service_gauge_pa
        return gauge + self.atmosphere_pa


class LedgerItem(NamedTuple):
    """One current record of the ledger; corrected and withdrawn ones are left out.

    When it was written down, and with what note, does not bear on the atmosphere.
    """

    id: int
    sequence: int
    kind: str
    occurred_at: datetime
    details: Mapping[str, Any] = MappingProxyType({})
    recorded_at: datetime | None = None
    note: str = ""

    def number(self, name: str) -> float | None:
        value = self.details.get(name)
        return float(value) if isinstance(value, int | float) else None

    def answer(self, name: str) -> str:
        """A yes / no / unknown answer; a question left out is unknown."""
        return str(self.details.get(name) or "unknown")


@dataclass(frozen=True, slots=True)
class RunAtRiser:
    """An inerting run under way: its feed, and the pressure the pipe was last purged to."""

    feed_n2_percent: float
    purged_gauge_pa: float = 0.0


@dataclass(frozen=True, slots=True)
class Condition:
    """Everything a derivation carries from one instant to the next."""

    at: datetime
    state: State
    reason_code: str
    reason: str
    cause_id: int | None
    oxygen: Oxygen
    feed: Feed
    proven_at: datetime | None = None  # the acceptance that the confirming readings count from
    read_at: datetime | None = None
    clears_from: datetime | None = None  # in doubt: a reading from then on may clear it
    run: RunAtRiser | None = None
    is_drained_under_cover: bool = False  # empty of water, and nitrogen stood in its place

    def because(self, code: str, reason: str, cause_id: int | None) -> "Condition":
        return replace(self, reason_code=code, reason=reason, cause_id=cause_id)

    def turned(
        self, state: State, code: str, reason: str, cause_id: int | None = None
    ) -> "Condition":
        """In another state from this instant, for this reason."""
        proven_at = None if state == AERATED else self.proven_at
        clears_from = self.at if state == IN_DOUBT else None
        turned = replace(self, state=state, proven_at=proven_at, clears_from=clears_from)
        return turned.because(code, reason, cause_id)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time that ends where the next one starts.

    Oxygen is the estimate at the start; `oxygen_at` follows its drift. A span begins at each change
    of state, of estimate or of gas supply, so neighbours can share a state; `cause_id` names
    the record that the present reason stands on, None where time alone or nothing on record does.
    `state_since` is when the first of the neighbours in this state began.
    """

    starts_at: datetime
    state: State
    reason_code: str
    reason: str
    cause_id: int | None
    oxygen_low: float
    oxygen_mid: float
    oxygen_high: float
    state_since: datetime
    feed: Feed

    @property
    def oxygen(self) -> Oxygen:
        return Oxygen(self.oxygen_low, self.oxygen_mid, self.oxygen_high)
