"""What an event cost, and what would help.

All are comparisons of histories under one belief about theta: the evidence judges the system as
it is, and the same posterior is used for the system as it might have been.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.assess import HORIZONS, Assessments, assess_many, assess_one
from registry.corrosion.batch import Batch
from registry.corrosion.belief import joined_beliefs
from registry.corrosion.columns import batch_from, span_order
from registry.corrosion.inputs import SystemInput
from registry.corrosion.run_chances import run_chances
from registry.corrosion.types import Array
from registry.corrosion.variants import (
    drained_or_vented,
    inert_now,
    joined,
    with_its_own_future,
    with_new_runs,
    with_purer_supply,
    with_treated_water,
    without_span,
)

DAYS_PER_YEAR: Final = 365.25

SOON: Final = (1.0, 5.0)
"""Where a score and what is spent within a year are all that is asked for."""

Change = Callable[[Batch], Batch]
Measure = tuple[str, str, Change, int | None]
"""Its code, what it is, what it does to a batch of one system, and the row that it replaces."""


@dataclass(frozen=True, slots=True)
class EventCost:
    """What one span of the ledger cost against the same history without it.

    wall_m is the mean depth it adds to the worst-hit run, median, once its oxygen is spent.
    days_of_life is None where both histories last beyond the last horizon.
    """

    span: int
    score_points: float
    wall_m: float
    run: int
    days_of_life: float | None


@dataclass(frozen=True, slots=True)
class Option:
    """A measure and what it would do. years_gained is None when life is beyond the horizon; run is
    the row of the run that it replaces."""

    code: str
    text: str
    score: float
    points: float
    life_yr: float
    years_gained: float | None
    run: int | None = None


def under_one_belief(
    base: Assessments, batch: Batch, horizons: tuple[float, ...] = HORIZONS
) -> Assessments:
    """Assess variants with the posterior of the systems as they are: `batch` holds all systems of
    `base` in order, once or several times over."""
    belief = joined_beliefs([base.belief] * (batch.size // base.size))
    return assess_many(batch, horizons=horizons, belief=belief)


def event_costs(
    system: SystemInput, spans: Sequence[int] | None = None, base: Assessments | None = None
) -> tuple[EventCost, ...]:
    """What each span (row of system.spans) cost; all of them by default.

    Notes: what is expected of the future is kept, so an event is not blamed for later ones.
    """
    chosen = list(range(len(system.spans))) if spans is None else list(spans)
    if not chosen:
        return ()
    base = base or assess_one(system)
    kept = with_its_own_future(batch_from([system]))
    rows = np.argsort(span_order([system]))
    batch = joined([kept, *(without_span(kept, int(rows[row])) for row in chosen)])
    results = under_one_belief(base, batch)
    depth = results.run_depth_next_m.reshape(batch.size, -1)
    return tuple(
        _event_cost(row, results, at + 1, depth, float(base.theta[0, 1]))
        for at, row in enumerate(chosen)
    )


def _event_cost(row: int, results: Assessments, at: int, depth: Array, theta: float) -> EventCost:
    grown = theta * (depth[0] - depth[at])
    worst = int(np.argmax(grown)) if grown.size else 0
    return EventCost(
        span=row,
        score_points=float(results.score[0] - results.score[at]),
        wall_m=float(grown[worst]) if grown.size else 0.0,
        run=worst,
        days_of_life=_gain(results, at, 0, DAYS_PER_YEAR),
    )


def _gain(results: Assessments, better: int, worse: int, scale: float = 1.0) -> float | None:
    """Median life of one row over another's; None where both reach past the last horizon."""
    last = results.horizons_yr[-1]
    lives = results.life_yr[[better, worse], 1]
    return None if np.all(lives >= last) else float((lives[0] - lives[1]) * scale)


def what_if(system: SystemInput, base: Assessments | None = None) -> tuple[Option, ...]:
    """Measures that apply to the system, most points first."""
    base = base or assess_one(system)
    measures, batch = _measures(system, base), batch_from([system])
    results = under_one_belief(
        base, joined([batch, *(change(batch) for _, _, change, _ in measures)])
    )
    options = [
        Option(
            code=code,
            text=text,
            score=float(results.score[i]),
            points=float(results.score[0] - results.score[i]),
            life_yr=float(results.life_yr[i, 1]),
            years_gained=_gain(results, i, 0),
            run=run,
        )
        for i, (code, text, _, run) in enumerate(measures, start=1)
    ]
    return tuple(sorted(options, key=lambda option: -option.points))


def _measures(system: SystemInput, base: Assessments) -> list[Measure]:
    measures: list[Measure] = []
    if not system.is_open:
        measures.append(("inert_now", "Make it inert now and keep it so", inert_now, None))
    if system.has_pools:
        measures.append(
            ("drain_pools", "Drain and pitch: no standing water", drained_or_vented, None)
        )
        if system.spans and not system.is_open:
            measures.append(("purer_supply", "Make-up of 99.5 % nitrogen", with_purer_supply, None))
    elif not system.is_vented:
        measures.append(("add_vents", "Add air vents at high points", drained_or_vented, None))
    measures.append(("treat_water", "Flush and treat the water", with_treated_water, None))
    if worst := worst_runs(system, base):
        text = "Replace the run most likely to leak"
        measures.append(
            ("replace_run", text, lambda batch: with_new_runs(batch, worst[:1]), worst[0])
        )
    return measures


def worst_runs(system: SystemInput, base: Assessments) -> list[int]:
    """Rows of runs the model covers, most likely to leak within five years first."""
    chance = run_chances(batch_from([system]), base)
    order = np.argsort(-chance, kind="stable")
    covered = batch_from([system]).runs.in_model
    return [int(row) for row in order if covered[row]]
