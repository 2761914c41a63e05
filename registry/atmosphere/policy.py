"""The limits a derivation is judged by. All are editable; each says what it rests on."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

PSI: Final = 6894.757293168361  # Pa; 1 psi by definition of the pound, the inch and gravity
DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Policy:
    """Unless a source is given, the values are common practice, no source, or assumed."""

    target_n2_percent: float = 98.0
    """Accept at and above. Common practice, no source."""

    confirming_days: tuple[int, ...] = (1, 30, 365)
    """Days after acceptance at which a reading is due. Common practice, no source."""

    repeat_days: int = 365
    """Then again every so many days; 0 for never. Common practice, no source."""

    grace_share: float = 0.25
    least_grace_days: float = 3.0
    most_grace_days: float = 30.0
    """A reading may lag by this share of its interval, within these bounds. Assumed; three days
    let a run accepted on a Friday be confirmed on the Monday."""

    stale_days: float = 456.0
    """Fifteen months without any gas reading. Assumed: beyond the longest gap that yearly readings,
    one early and the next late, can leave (425 days)."""

    analyser_error_percent: float = 0.5
    """Either way, in points of nitrogen. Assumed for a calibrated portable oxygen meter."""

    aerated_air_share: float = 0.5
    """Air's share of the gas from which a pipe counts as aerated. Assumed: beyond a
    half more gas was replaced by air than was left, and no single fill at 30 psig mends that."""

    second_reading_after: timedelta = DAY
    """Least time between the two readings that show a generator has done its sweep. Assumed."""

    mixing_spread: float = 0.3
    """Mixing index of a fill: 1 give or take this, two standard deviations of 0.15. Assumed."""

    least_leak_pa_per_day: float = 0.25 * PSI
    usual_leak_pa_per_day: float = 1.0 * PSI
    most_leak_pa_per_day: float = 10.0 * PSI / 7.0
    """Pressure a gas-filled system loses, and its supply makes up. The most: NFPA 25 before 2008
    had leaks over 10 psi a week corrected (from a public restatement, check the edition). The
    others are assumed."""

    usual_service_gauge_pa: float = 30.0 * PSI
    """Pressure of a gas-filled system whose own is not recorded. Common practice, no source."""

    least_supply_n2_percent: float = 95.0
    usual_supply_n2_percent: float = 98.0
    most_supply_n2_percent: float = 99.9
    """What a generator delivers when its purity is not recorded. Assumed."""

    cylinder_n2_percent: float = 99.9
    """Nitrogen of cylinder gas whose grade is not recorded. Assumed."""

    def __post_init__(self) -> None:
        if not 79.05 < self.target_n2_percent < 100:
            raise ValueError(
                f"target_n2_percent is {self.target_n2_percent:g}; it must lie above the 79.05 % "
                "of air and below 100 %"
            )
        if self.repeat_days < 0 or any(days <= 0 for days in self.confirming_days):
            raise ValueError(
                f"confirming_days are {self.confirming_days} and repeat_days {self.repeat_days}; "
                "days must be above zero (repeat_days may be 0 for never)"
            )
