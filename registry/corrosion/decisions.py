"""What drives a score, what an event cost, what would help.

All are comparisons of histories under one belief about theta: the evidence judges the system as
it is, and the same posterior is used for the system as it might have been.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.assess import HORIZONS, Assessments, assess_many, assess_one
from registry.corrosion.attack import attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.dimensions import dn_from_nominal_size, pipe_dimensions
from registry.corrosion.inputs import IN_MODEL, GasSpan, RunInput, SystemInput
from registry.corrosion.prior import prior_weights
from registry.corrosion.thickness import likely_joint
from registry.corrosion.types import Array

INERT_OXYGEN: Final = 0.02
"""Oxygen left when a meter reads 98 % nitrogen."""

DAYS_PER_YEAR: Final = 365.25

Change = Callable[[SystemInput], SystemInput]


@dataclass(frozen=True, slots=True)
class Reason:
    """A driver of the score: what the score would be with it at its good value."""

    code: str
    text: str
    score_without: float
    points: float


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
    """A measure and what it would do. years_gained is None when life is beyond the horizon."""

    code: str
    text: str
    score: float
    points: float
    life_yr: float
    years_gained: float | None


def under_one_belief(
    base: Assessments, systems: Sequence[SystemInput], horizons: tuple[float, ...] = HORIZONS
) -> Assessments:
    """Assess variants of one system with the posterior of the system as it is."""
    weights = np.repeat(base.weights[:1], len(systems), axis=0)
    return assess_many(batch_from(systems), horizons=horizons, weights=weights)


def inert_now(system: SystemInput, *, at_yr: float | None = None) -> SystemInput:
    """The same system made inert at `at_yr` (now by default) and kept so."""
    when = system.now_yr if at_yr is None else at_yr
    last = max(system.spans, key=lambda span: span.start_yr, default=None)
    turnover = last.turnover_per_yr if last else 0.0
    kept = tuple(span for span in system.spans if span.start_yr <= when)
    span = GasSpan(when, INERT_OXYGEN, INERT_OXYGEN if system.has_pools else 0.0, turnover)
    future = INERT_OXYGEN if system.future_oxygen is None else system.future_oxygen
    return replace(system, spans=(*kept, span), future_oxygen=min(future, INERT_OXYGEN))


def always_inert(system: SystemInput) -> SystemInput:
    """The ledger with every gas at 98 % nitrogen or better."""
    spans = tuple(
        replace(
            span,
            oxygen=min(span.oxygen, INERT_OXYGEN),
            makeup_oxygen=min(span.makeup_oxygen, INERT_OXYGEN),
        )
        for span in system.spans
    )
    return replace(system, spans=spans, future_oxygen=_future_oxygen(system))


def _future_oxygen(system: SystemInput) -> float | None:
    """Fixes what is expected, so that cleaning the past does not clean the future as well."""
    if system.future_oxygen is not None or system.has_pools or not system.spans:
        return system.future_oxygen
    return max(system.spans, key=lambda span: span.start_yr).oxygen


def clean_before_register(system: SystemInput) -> SystemInput:
    assumed = system.assumptions.with_overrides({"unknown_oxygen": INERT_OXYGEN})
    future = system.future_oxygen
    if future is None and not (system.spans and not system.has_pools):
        future = float(np.asarray(system.assumptions.unknown_oxygen))
    return replace(system, assumptions=assumed, future_oxygen=future)


def with_vents(system: SystemInput) -> SystemInput:
    return replace(system, is_vented=True)


def without_pools(system: SystemInput) -> SystemInput:
    return _each_run(system, lambda run: replace(run, wetted_fraction=0.0))


def with_thicker_wall(system: SystemInput) -> SystemInput:
    return _each_run(system, _schedule_40)


def without_joint_loss(system: SystemInput) -> SystemInput:
    return _each_run(system, lambda run: replace(run, joint="welded"))


def with_purer_supply(system: SystemInput) -> SystemInput:
    """Make-up of 99.5 % nitrogen from now on."""
    last = max(system.spans, key=lambda span: span.start_yr)
    return with_supply(system, min(0.005, last.makeup_oxygen))


def with_supply(system: SystemInput, makeup: float) -> SystemInput:
    """Make-up of this oxygen fraction from now on, at the rate of the latest span."""
    last = max(system.spans, key=lambda span: span.start_yr)
    attack = attack_of(batch_from([system]))
    oxygen = float(attack.exposure.oxygen_at(np.array([0]), np.array([system.now_yr]))[0])
    span = GasSpan(system.now_yr, oxygen, makeup, last.turnover_per_yr)
    return replace(system, spans=(*system.spans, span))


def with_new_runs(system: SystemInput, runs: Sequence[int]) -> SystemInput:
    """The same system with some runs replaced today by new pipe of the same size."""
    renewed = tuple(
        replace(run, installed_yr=system.now_yr) if row in runs else run
        for row, run in enumerate(system.runs)
    )
    return replace(system, runs=renewed)


def _each_run(system: SystemInput, change: Callable[[RunInput], RunInput]) -> SystemInput:
    return replace(system, runs=tuple(change(run) for run in system.runs))


def _schedule_40(run: RunInput) -> RunInput:
    """The same run of Schedule 40, joined as it is: an unknown joint must not become a thread."""
    if run.material not in IN_MODEL:
        return run
    pipe = pipe_dimensions(material=run.material, nps=run.nominal_size, schedule="40")
    joint = likely_joint(run.wall_m, dn_from_nominal_size(run.nominal_size), run.joint)
    return replace(run, wall_m=max(run.wall_m, pipe.wall_m), joint=joint)


def drivers_of(system: SystemInput) -> list[tuple[str, str, Change]]:
    drivers: list[tuple[str, str, Change]] = [
        ("gas_from_now", "Gas from now on: air is let in instead of nitrogen", inert_now),
        ("gas_so_far", "Oxygen let in since the register began", always_inert),
        ("before_register", "Assumed history before the register", clean_before_register),
        ("wall", "Wall thinner than Schedule 40", with_thicker_wall),
        ("joints", "Wall taken by threads or cut grooves", without_joint_loss),
    ]
    if system.has_pools:
        drivers.append(("residual_water", "Water standing in the pipe", without_pools))
    elif not system.is_vented:
        drivers.append(("trapped_gas", "Gas trapped where no vent lets it out", with_vents))
    return drivers


def reasons(system: SystemInput, base: Assessments | None = None) -> tuple[Reason, ...]:
    """Drivers of the score, largest first, each against its good value, all else kept.

    Notes: points do not add up to the score, because drivers multiply. The last driver compares
    with the score before field evidence and may be negative.
    """
    base = base or assess_one(system)
    drivers = drivers_of(system)
    variants = under_one_belief(base, [change(system) for _, _, change in drivers])
    alone = batch_from([system])
    before = assess_many(alone, weights=prior_weights(alone))
    rows = [(code, text, float(variants.score[i])) for i, (code, text, _) in enumerate(drivers)]
    rows.append(("evidence", "Field evidence: readings, leaks or their absence", before.score[0]))
    score = float(base.score[0])
    found = [Reason(code, text, float(s), score - float(s)) for code, text, s in rows]
    return tuple(sorted(found, key=lambda reason: -abs(reason.points)))


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
    kept = replace(system, future_oxygen=_future_oxygen(system))
    others = [_without_span(kept, row) for row in chosen]
    results = under_one_belief(base, [kept, *others])
    depth = _spent_depth([kept, *others])
    return tuple(
        _event_cost(row, results, at + 1, depth, float(base.theta[0, 1]))
        for at, row in enumerate(chosen)
    )


def _without_span(system: SystemInput, row: int) -> SystemInput:
    """History without one span: what was before it goes on. The first has assumed history before.

    The unknown stretch would reach to the next span, so a first span is replaced by inert gas.
    """
    spans = list(system.spans)
    first = min(range(len(spans)), key=lambda i: spans[i].start_yr)
    if row == first:
        spans[row] = replace(spans[row], oxygen=min(spans[row].oxygen, INERT_OXYGEN))
    else:
        del spans[row]
    return replace(system, spans=tuple(spans))


def _spent_depth(systems: Sequence[SystemInput]) -> Array:
    """Depth of every run a year from now, by when what was let in is spent: (systems, runs)."""
    batch = batch_from(systems)
    times = batch.systems.now_yr[:, None] + 1.0
    depth: Array = attack_of(batch).depths(times)[0].reshape(len(systems), -1)
    return depth


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
    measures = _measures(system, base)
    results = under_one_belief(base, [system, *(change(system) for _, _, change in measures)])
    options = [
        Option(
            code=code,
            text=text,
            score=float(results.score[i]),
            points=float(results.score[0] - results.score[i]),
            life_yr=float(results.life_yr[i, 1]),
            years_gained=_gain(results, i, 0),
        )
        for i, (code, text, _) in enumerate(measures, start=1)
    ]
    return tuple(sorted(options, key=lambda option: -option.points))


def _measures(system: SystemInput, base: Assessments) -> list[tuple[str, str, Change]]:
    measures: list[tuple[str, str, Change]] = [
        ("inert_now", "Make it inert now and keep it so", inert_now)
    ]
    if system.has_pools:
        measures.append(("drain_pools", "Drain and pitch: no standing water", without_pools))
        if system.spans:
            measures.append(("purer_supply", "Make-up of 99.5 % nitrogen", with_purer_supply))
    elif not system.is_vented:
        measures.append(("add_vents", "Add air vents at high points", with_vents))
    if worst := worst_runs(system, base):
        text = "Replace the run most likely to leak"
        measures.append(("replace_run", text, lambda s: with_new_runs(s, worst[:1])))
    return measures


def worst_runs(system: SystemInput, base: Assessments) -> list[int]:
    """Rows of runs the ledger covers, most expected leaks within five years first."""
    batch = batch_from([system])
    attack = attack_of(batch)
    times = batch.systems.now_yr[:, None] + np.array([0.0, 5.0])
    depths = attack.depths(times)
    theta = base.theta[:1, 1:2]
    rows = np.arange(len(system.runs))
    grown = attack.run_intensity(rows, depths[1], theta) - attack.run_intensity(
        rows, depths[0], theta
    )
    order = np.argsort(-grown[:, 0], kind="stable")
    return [int(row) for row in order if batch.runs.in_model[row]]
