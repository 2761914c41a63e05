"""Measures taken together, and what the system would be like after them."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.assess.details import Detail
from registry.corrosion.batch import Batch
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import under_one_belief
from registry.corrosion.gas import oxygen_from_n2_percent
from registry.corrosion.variants import (
    drained_or_vented,
    inert_now,
    joined,
    with_new_runs,
    with_supply,
)


@dataclass(frozen=True, slots=True)
class Measures:
    """`new_runs` are rows of the case's runs. Those that do not fit the system change nothing."""

    is_inerted: bool = False
    has_vents: bool = False
    is_drained: bool = False
    supply_n2_percent: float | None = None
    new_runs: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class WhatIfOutcome:
    score_before: float
    score: float
    leak_before: float
    leak_in_5_yr: float
    life_before_yr: float
    life_yr: float

    @property
    def points(self) -> float:
        return self.score_before - self.score


def outcome(detail: Detail, measures: Measures) -> WhatIfOutcome:
    """Under the same belief about the system as it is now."""
    batch = batch_from([detail.input])
    both = under_one_belief(detail.base, joined([batch, _changed(batch, measures)]))
    five = int(both.horizons_yr.tolist().index(5.0))
    return WhatIfOutcome(
        score_before=float(both.score[0]),
        score=float(both.score[1]),
        leak_before=float(both.leak_probability[0, five]),
        leak_in_5_yr=float(both.leak_probability[1, five]),
        life_before_yr=float(both.life_yr[0, 1]),
        life_yr=float(both.life_yr[1, 1]),
    )


def _changed(batch: Batch, measures: Measures) -> Batch:
    has_pools, is_open = bool(batch.systems.has_pools[0]), bool(batch.systems.is_open[0])
    if measures.is_inerted and not is_open:
        batch = inert_now(batch)
    if measures.supply_n2_percent is not None and has_pools and not is_open:
        batch = with_supply(batch, float(oxygen_from_n2_percent(measures.supply_n2_percent)))
    if measures.is_drained if has_pools else measures.has_vents:
        batch = drained_or_vented(batch)
    return with_new_runs(batch, measures.new_runs) if measures.new_runs else batch
