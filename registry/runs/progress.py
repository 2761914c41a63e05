"""A run as planned, as measured and as now believed: what each fill should read, and did."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from registry.corrosion.gas import oxygen_from_n2_percent
from registry.corrosion.inerting import (
    MeasuredFill,
    MixingIndex,
    PlanInputs,
    Prediction,
    ReadingJudgement,
    fitted_mixing_index,
    judge_reading,
    predict_next,
    update_mixing,
)
from registry.corrosion.inerting import plan_from_reading as plan_rest
from registry.corrosion.mixing import Cause
from registry.models import InertingRun, Record
from registry.runs.acceptance import Decision, Demands
from registry.runs.steps import (
    BESIDE,
    CHECKED,
    FILLED,
    PURGED,
    READ,
    WITH_A_FILL,
    RunStep,
    current_fill,
    decision_of,
    demands_of,
    next_step,
    open_steps,
)

LOOKS_LIKE_OXYGEN = 25.0
"""A meter that shows oxygen reads under 21; no pipe of air and nitrogen holds under 79 % of it."""


@dataclass(frozen=True)
class FillLog:
    """One fill beside its plan. `reading` is the one that counts, the last of `readings`."""

    fill: int
    planned: dict[str, Any] | None = None
    filled: Record | None = None
    readings: tuple[Record, ...] = ()
    purged: Record | None = None
    measured: MeasuredFill | None = None
    mixing_index: float | None = None

    @property
    def reading(self) -> Record | None:
        return self.readings[-1] if self.readings else None


@dataclass(frozen=True)
class Progress:
    fills: tuple[FillLog, ...]
    mixing: MixingIndex
    step: RunStep | None
    expected: Prediction | None
    fills_left: int | None

    @property
    def last_reading(self) -> Record | None:
        return next((log.reading for log in reversed(self.fills) if log.reading), None)

    @property
    def last_n2_percent(self) -> float | None:
        return self.last_reading.details["n2_percent"] if self.last_reading else None


def current_steps(run: InertingRun) -> list[Record]:
    """The run's steps as they now stand, in the order they were done."""
    steps = run.records.current().filter(kind__startswith="inerting.")
    return list(steps.in_order().select_related("recorded_by"))


def takes_water(run: InertingRun) -> bool:
    return not run.system.is_gas_filled


def step_of(run: InertingRun, steps: Sequence[Record]) -> RunStep | None:
    return next_step(steps, **_at_riser(run))


def open_steps_of(run: InertingRun, steps: Sequence[Record]) -> tuple[RunStep, ...]:
    return open_steps(steps, **_at_riser(run))


def _at_riser(run: InertingRun) -> dict[str, Any]:
    return {"takes_water": takes_water(run), "atmosphere_pa": run.system.site.atmosphere_pa}


def demands_on(run: InertingRun, steps: Sequence[Record]) -> Demands:
    """What the owner asked when the run began; of runs from before that was kept, the target."""
    return demands_of(steps) or Demands(run.target_n2_percent)


def decision_on(run: InertingRun, steps: Sequence[Record], fill: int) -> Decision | None:
    return decision_of(steps, fill, run.system.site.atmosphere_pa)


def last_done(steps: Sequence[Record]) -> Record | None:
    """The last step itself, whatever was written beside it since."""
    return next((step for step in reversed(steps) if step.kind not in BESIDE), None)


def progress_of(run: InertingRun, steps: Sequence[Record]) -> Progress:
    fills = fill_logs(run, steps)
    mixing = belief_before(run, fills, after=len(fills))
    step = step_of(run, steps)
    return Progress(
        fills=fills,
        mixing=mixing,
        step=step,
        expected=_expected(run, fills, step),
        fills_left=_fills_left(run, fills, mixing),
    )


def fill_logs(run: InertingRun, steps: Sequence[Record]) -> tuple[FillLog, ...]:
    """The fills logged so far; each starts from the reading and the pressure the last one left."""
    planned = {fill["fill"]: fill for fill in run.plan.get("fills", ())}
    logs: list[FillLog] = []
    start, left = run.start_n2_percent, 0.0
    for fill in range(1, current_fill(steps) + 1):
        own = [step for step in steps if step.details.get("fill") == fill]
        log = FillLog(
            fill=fill,
            planned=planned.get(fill),
            filled=_last(own, FILLED),
            readings=tuple(step for step in own if step.kind == READ),
            purged=_last(own, PURGED),
        )
        log = _measured(run, log, start, left)
        logs.append(log)
        start = log.reading.details["n2_percent"] if log.reading else start
        left = log.purged.details["pressure_gauge_pa"] if log.purged else 0.0
    return tuple(logs)


def _last(steps: Iterable[Record], kind: str) -> Record | None:
    return next((step for step in reversed(list(steps)) if step.kind == kind), None)


def _measured(run: InertingRun, log: FillLog, start: float, left: float) -> FillLog:
    if not (log.filled and log.reading):
        return log
    reached = log.filled.details["pressure_gauge_pa"]
    measured = fill_of(run, start, log.reading.details["n2_percent"], left, reached)
    if measured is None:
        return log
    index = float(
        fitted_mixing_index(
            measured.start_oxygen, measured.oxygen, measured.feed_oxygen, measured.pressure_ratio
        )
    )
    return replace(log, measured=measured, mixing_index=index if isfinite(index) else None)


def fill_of(
    run: InertingRun, start_n2: float, n2: float, left_gauge_pa: float, reached_gauge_pa: float
) -> MeasuredFill | None:
    """A fill for the physics; None when the pressure did not rise, which teaches nothing."""
    atmosphere = run.system.site.atmosphere_pa
    ratio = (left_gauge_pa + atmosphere) / (reached_gauge_pa + atmosphere)
    if not 0 < ratio < 1:
        return None
    return MeasuredFill(
        start_oxygen=_oxygen(start_n2),
        oxygen=_oxygen(n2),
        feed_oxygen=_oxygen(run.feed_n2_percent),
        pressure_ratio=ratio,
    )


def _oxygen(n2_percent: float) -> float:
    return float(oxygen_from_n2_percent(n2_percent))


def prior_of(run: InertingRun) -> MixingIndex:
    inputs = run.plan.get("inputs", {})
    return MixingIndex(inputs.get("mixing_mean", 1.0), inputs.get("mixing_sd", 0.15))


def belief_before(run: InertingRun, fills: Sequence[FillLog], *, after: int) -> MixingIndex:
    """What was believed about mixing once the first `after` fills were read."""
    return update_mixing(prior_of(run), [log.measured for log in fills[:after] if log.measured])


def _expected(
    run: InertingRun, fills: Sequence[FillLog], step: RunStep | None
) -> Prediction | None:
    """The next reading: of the fill under way, or of the one that would follow."""
    if step is None or step.kind not in (CHECKED, *WITH_A_FILL):
        return None
    is_next = step.kind in (CHECKED, PURGED)
    return expected_of_fill(run, fills, step.fill + 1 if is_next else step.fill)


def expected_of_fill(run: InertingRun, fills: Sequence[FillLog], fill: int) -> Prediction | None:
    """Median and band of the reading of a fill, from what was known before it was read."""
    before = [log for log in fills if log.fill < fill]
    own = next((log for log in fills if log.fill == fill), None)
    start, left = left_by(run, before)
    reached = own.filled.details["pressure_gauge_pa"] if own and own.filled else None
    measured = fill_of(run, start, start, left, reached or run.fill_pressure_gauge_pa)
    if measured is None:
        return None
    return predict_next(
        belief_before(run, before, after=len(before)),
        start_oxygen=measured.start_oxygen,
        feed_oxygen=measured.feed_oxygen,
        pressure_ratio=measured.pressure_ratio,
    )


def left_by(run: InertingRun, before: Sequence[FillLog]) -> tuple[float, float]:
    """Nitrogen and gauge pressure a fill starts from."""
    start = next(
        (log.reading.details["n2_percent"] for log in reversed(before) if log.reading),
        run.start_n2_percent,
    )
    purged = before[-1].purged if before else None
    return start, purged.details["pressure_gauge_pa"] if purged else 0.0


def judge(
    run: InertingRun, steps: Sequence[Record], fill: int, n2_percent: float
) -> ReadingJudgement | None:
    """Whether a reading of a fill can be believed; None when there is nothing to judge it by."""
    fills = fill_logs(run, steps)
    before = [log for log in fills if log.fill < fill]
    own = next((log for log in fills if log.fill == fill), None)
    if own is None or own.filled is None:
        return None
    start, left = left_by(run, before)
    measured = fill_of(run, start, n2_percent, left, own.filled.details["pressure_gauge_pa"])
    if measured is None:
        return None
    judgement = judge_reading(belief_before(run, before, after=len(before)), measured)
    if not judgement.is_plausible and n2_percent < LOOKS_LIKE_OXYGEN:
        causes = (_meter_shows_oxygen(n2_percent), *judgement.causes)
        judgement = replace(judgement, causes=causes)
    return judgement


def _meter_shows_oxygen(shown: float) -> Cause:
    return Cause(
        "oxygen_shown",
        f"The meter shows oxygen: nitrogen is 100 less that, {100 - shown:.2f} %.",
    )


def _fills_left(run: InertingRun, fills: Sequence[FillLog], mixing: MixingIndex) -> int | None:
    """Fills still to be expected by the median; None when the target looks out of reach."""
    start, _ = left_by(run, fills)
    return plan_rest(run_inputs(run), n2_percent_now=start, mixing=mixing).fills_needed


def run_inputs(run: InertingRun) -> PlanInputs:
    return PlanInputs(
        volume_m3=run.volume_m3,
        fill_pressure_gauge_pa=run.fill_pressure_gauge_pa,
        atmosphere_pa=run.system.site.atmosphere_pa,
        temperature_k=run.temperature_k,
        feed_n2_percent=run.feed_n2_percent,
        start_n2_percent=run.start_n2_percent,
        target_n2_percent=run.target_n2_percent,
    )
