"""Whether readings end the fills: what the owner asks before one at target counts.

Pure, and the one home of the decision. `Demands.as_data` is the same policy for the program of the
page; `tests/registry/runs/acceptance_cases.json` holds cases that both must judge alike.

Common practice, no source: a hold of 15 to 30 minutes that falls 0.5 psi at most, corrected for
temperature; a wait for mixing; a point for every 1 to 2 m3 or floor, of which the worst decides.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from registry.corrosion.gas import pressure_at_temperature
from registry.quantities import PSI

ROUNDING_PA = 1.0
USUAL_FALL_PA = 0.5 * PSI

NO_READING, BELOW, EARLY = "no_reading", "below_target", "too_early"
UNNAMED, POINTS = "point_not_named", "more_points"
NO_HOLD, SHORT, FELL = "no_hold", "hold_too_short", "hold_fell"


@dataclass(frozen=True, slots=True)
class Demands:
    """What the owner asks of an acceptance. Percent of nitrogen, seconds, Pa."""

    target_n2_percent: float
    wait_s: float = 0.0
    points: int = 1
    hold_s: float = 0.0
    hold_fall_pa: float = USUAL_FALL_PA

    @property
    def is_more_than_a_reading(self) -> bool:
        return self.wait_s > 0 or self.points > 1 or self.hold_s > 0

    def as_data(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class PointReading:
    """A reading of the fill at one point; `after_fill_s` since the gas was shut off."""

    n2_percent: float
    where: str = ""
    after_fill_s: float = 0.0

    @property
    def point(self) -> str:
        return " ".join(self.where.casefold().split())


@dataclass(frozen=True, slots=True)
class Hold:
    """Gas that was shut in and watched. Gauge Pa, seconds, K where they were written down."""

    start_gauge_pa: float
    end_gauge_pa: float
    duration_s: float
    start_temperature_k: float | None = None
    end_temperature_k: float | None = None

    def fall_pa(self, atmosphere_pa: float) -> float:
        """Pressure lost, Pa, as it would be had the gas kept its temperature; negative: a rise."""
        end = self.end_gauge_pa + atmosphere_pa
        if self.start_temperature_k and self.end_temperature_k:
            end = float(
                pressure_at_temperature(end, self.end_temperature_k, self.start_temperature_k)
            )
        return self.start_gauge_pa + atmosphere_pa - end


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing that is still asked for: what, where, and the number that was found."""

    code: str
    where: str = ""
    found: float | None = None


@dataclass(frozen=True, slots=True)
class Decision:
    """`n2_percent` is the reading that decides: the worst of those that count."""

    lacks: tuple[Lack, ...]
    n2_percent: float | None = None
    points: tuple[PointReading, ...] = ()

    @property
    def is_accepted(self) -> bool:
        return not self.lacks

    @property
    def is_below(self) -> bool:
        """Whether the gas itself is not there yet: only another fill helps."""
        return any(lack.code in (NO_READING, BELOW) for lack in self.lacks)

    @property
    def waits_for_hold(self) -> bool:
        return not self.is_accepted and all(
            lack.code in (NO_HOLD, SHORT, FELL) for lack in self.lacks
        )


def decide(
    demands: Demands,
    readings: Sequence[PointReading],
    hold: Hold | None,
    *,
    atmosphere_pa: float,
) -> Decision:
    """Accepted, or what is lacking and why. `readings` of one fill, in the order they were taken;
    the last at each point counts, and where one point is asked for, the last of all."""
    latest = _latest(demands, readings)
    if not latest:
        return Decision((Lack(NO_READING),))
    worst = min(reading.n2_percent for reading in latest)
    lacks = [*_of_readings(demands, latest)] or [*_of_hold(demands, hold, atmosphere_pa)]
    return Decision(tuple(lacks), worst, latest)


def _latest(demands: Demands, readings: Sequence[PointReading]) -> tuple[PointReading, ...]:
    if demands.points == 1:
        return tuple(readings[-1:])
    return tuple({reading.point: reading for reading in readings}.values())


def _of_readings(demands: Demands, latest: Sequence[PointReading]) -> list[Lack]:
    below = [
        Lack(BELOW, reading.where, reading.n2_percent)
        for reading in latest
        if reading.n2_percent < demands.target_n2_percent
    ]
    if below:
        return below
    early = [
        Lack(EARLY, reading.where, reading.after_fill_s)
        for reading in latest
        if reading.after_fill_s < demands.wait_s
    ]
    if demands.points == 1:
        return early
    unnamed = [Lack(UNNAMED) for reading in latest if not reading.point]
    named = sum(bool(reading.point) for reading in latest)
    missing = [Lack(POINTS, found=float(named))] if named < demands.points else []
    return early + (unnamed if missing else []) + missing


def _of_hold(demands: Demands, hold: Hold | None, atmosphere_pa: float) -> list[Lack]:
    if demands.hold_s <= 0:
        return []
    if hold is None:
        return [Lack(NO_HOLD)]
    if hold.duration_s < demands.hold_s:
        return [Lack(SHORT, found=hold.duration_s)]
    fall = hold.fall_pa(atmosphere_pa)
    return [Lack(FELL, found=fall)] if fall > demands.hold_fall_pa + ROUNDING_PA else []
