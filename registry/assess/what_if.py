"""Measures taken together, and what the system would be like after them."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.assess.details import Detail
from registry.corrosion.decisions import (
    inert_now,
    under_one_belief,
    with_new_runs,
    with_supply,
    with_vents,
    without_pools,
)
from registry.corrosion.gas import oxygen_from_n2_percent
from registry.corrosion.inputs import SystemInput


@dataclass(frozen=True, slots=True)
class Measures:
    """`new_runs` are rows of the case's runs. Those that do not fit the system change nothing."""

    is_inerted: bool = False
    has_vents: bool = False
    is_drained: bool = False
    supply_n2_percent: float | None = None
    new_runs: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    score_before: float
    score: float
    leak_before: float
    leak_in_5_yr: float
    life_before_yr: float
    life_yr: float

    @property
    def points(self) -> float:
        return self.score_before - self.score


def outcome(detail: Detail, measures: Measures) -> Outcome:
    """Under the same belief about the system as it is now."""
    changed = _changed(detail.input, measures)
    both = under_one_belief(detail.base, [detail.input, changed])
    five = int(both.horizons_yr.tolist().index(5.0))
    return Outcome(
        score_before=float(both.score[0]),
        score=float(both.score[1]),
        leak_before=float(both.leak_probability[0, five]),
        leak_in_5_yr=float(both.leak_probability[1, five]),
        life_before_yr=float(both.life_yr[0, 1]),
        life_yr=float(both.life_yr[1, 1]),
    )


def _changed(system: SystemInput, measures: Measures) -> SystemInput:
    if measures.is_inerted:
        system = inert_now(system)
    if measures.supply_n2_percent is not None and system.has_pools and system.spans:
        system = with_supply(system, float(oxygen_from_n2_percent(measures.supply_n2_percent)))
    if measures.has_vents and not system.has_pools:
        system = with_vents(system)
    if measures.is_drained and system.has_pools:
        system = without_pools(system)
    if measures.new_runs:
        system = with_new_runs(system, measures.new_runs)
    return system
