"""Where an inerting run stands and what comes next, told from the steps logged so far.

Pure: no database, no clock. A step is named by its kind and the fill it belongs to, and that name
travels with every form, so that an entry which arrives late cannot be taken for another step.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from registry.kinds import steps as kinds
from registry.quantities import STANDARD_ATMOSPHERE_PA
from registry.runs.acceptance import Decision, Demands, Hold, PointReading, decide

STARTED = kinds.STARTED.code
CHECKED = kinds.CHECKED.code
FILLED = kinds.FILLED.code
READ = kinds.READ.code
HELD = kinds.HELD.code
PURGED = kinds.PURGED.code
ACCEPTED = kinds.ACCEPTED.code
FINAL_PURGE = kinds.FINAL_PURGE.code
WATER_FILLED = kinds.WATER_FILLED.code
RETURNED = kinds.RETURNED.code
STOPPED = kinds.STOPPED.code
PHOTO = kinds.PHOTO.code
SIGNED = kinds.SIGNED.code

OF_A_FILL = (FILLED, READ, PURGED)
WITH_A_FILL = (*OF_A_FILL, HELD)
CLOSING_WET = (FINAL_PURGE, WATER_FILLED, RETURNED)
CLOSING_GAS = (RETURNED,)
LOGGABLE = (CHECKED, *WITH_A_FILL, *CLOSING_WET)
BESIDE = (PHOTO, SIGNED)
"""Written beside the steps, at any time."""
PREFIX = "inerting."
MOST_FILLS = 50


class Logged(Protocol):
    """What a step needs to show of itself; a ledger record does."""

    kind: str
    details: Mapping[str, Any]
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class RunStep:
    """One thing to do and log. `fill` is 0 for the steps after acceptance."""

    kind: str
    fill: int = 0

    @property
    def is_reading(self) -> bool:
        return self.kind == READ

    @property
    def token(self) -> str:
        name = self.kind.removeprefix(PREFIX)
        return f"{name}-{self.fill}" if self.fill else name

    @classmethod
    def from_token(cls, token: str) -> "RunStep":
        """The step a form was made for; ValueError when there is no such step."""
        name, _, fill = token.partition("-")
        step = cls(PREFIX + name, int(fill) if fill.isascii() and fill.isdigit() else 0)
        has_right_fill = (step.kind in WITH_A_FILL) == (0 < step.fill <= MOST_FILLS)
        if step.kind not in LOGGABLE or not has_right_fill or step.token != token:
            raise ValueError(f"“{token}” is not a step of an inerting run")
        return step


def next_step(
    logged: Sequence[Logged],
    *,
    takes_water: bool,
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA,
) -> RunStep | None:
    """What is to be done now, or None when the run has ended.

    Pipe that holds gas in service is not vented to zero after acceptance: it keeps its nitrogen.
    """
    kinds = {step.kind for step in logged}
    if kinds & {RETURNED, STOPPED}:
        return None
    if ACCEPTED in kinds:
        closing = CLOSING_WET if takes_water else CLOSING_GAS
        return next(RunStep(kind) for kind in closing if kind not in kinds)
    return _step_of_fill(logged, atmosphere_pa)


def _step_of_fill(logged: Sequence[Logged], atmosphere_pa: float) -> RunStep:
    fill = current_fill(logged)
    if not fill:
        return RunStep(CHECKED) if _is_analyser_to_be_asked(logged) else RunStep(FILLED, 1)
    done = {step.kind for step in logged if step.details.get("fill") == fill}
    if PURGED in done:
        return RunStep(FILLED, fill + 1)
    if READ not in done:
        return RunStep(READ, fill)
    decision = decision_of(logged, fill, atmosphere_pa)
    if decision is None or decision.is_accepted or decision.is_below:
        return RunStep(PURGED, fill)
    return RunStep(HELD if decision.waits_for_hold else READ, fill)


def _is_analyser_to_be_asked(logged: Iterable[Logged]) -> bool:
    """Once a run; runs begun before it was asked say nothing of the points to read."""
    asks = any(step.kind == STARTED and "points" in step.details for step in logged)
    return asks and not any(step.kind == CHECKED for step in logged)


def open_steps(
    logged: Sequence[Logged],
    *,
    takes_water: bool,
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA,
) -> tuple[RunStep, ...]:
    """What may be logged now, the step that is asked for first. The analyser may be passed over,
    and a fill that lacks something yet may be read again, or purged for another."""
    step = next_step(logged, takes_water=takes_water, atmosphere_pa=atmosphere_pa)
    if step is None:
        return ()
    if step.kind == CHECKED:
        return (step, RunStep(FILLED, 1))
    is_read = any(
        row.kind == READ and row.details.get("fill") == step.fill and step.fill for row in logged
    )
    if step.kind in (READ, HELD) and is_read:
        return (step, RunStep(READ, step.fill), RunStep(PURGED, step.fill))
    return (step,)


def demands_of(logged: Iterable[Logged]) -> Demands | None:
    """What the owner asked of an acceptance when the run began; None where no start is known."""
    start = next((step.details for step in logged if step.kind == STARTED), None)
    if not start or start.get("target_n2_percent") is None:
        return None
    asked = {name: start[name] for name in ASKED if start.get(name) is not None}
    return Demands(start["target_n2_percent"], **asked)


ASKED = ("points", "wait_s", "hold_s", "hold_fall_pa")


def decision_of(logged: Sequence[Logged], fill: int, atmosphere_pa: float) -> Decision | None:
    """Whether the readings of a fill end the run's fills; None where no start is known."""
    demands = demands_of(logged)
    if demands is None:
        return None
    own = [step for step in logged if step.details.get("fill") == fill]
    filled = next((step for step in own if step.kind == FILLED), None)
    held = [step for step in own if step.kind == HELD]
    return decide(
        demands,
        _readings(own, filled if demands.is_more_than_a_reading else None),
        _hold(held[-1].details) if held else None,
        atmosphere_pa=atmosphere_pa,
    )


def _readings(own: Iterable[Logged], filled: Logged | None) -> list[PointReading]:
    read = [step for step in own if step.kind == READ]
    if filled is None:
        return [_reading(step, 0.0) for step in read]
    began = filled.occurred_at
    in_order = sorted(read, key=lambda step: step.occurred_at)
    return [_reading(step, (step.occurred_at - began).total_seconds()) for step in in_order]


def _reading(step: Logged, after_fill_s: float) -> PointReading:
    return PointReading(step.details["n2_percent"], step.details.get("where") or "", after_fill_s)


def _hold(details: Mapping[str, Any]) -> Hold:
    return Hold(
        details["start_gauge_pa"],
        details["end_gauge_pa"],
        details["duration_s"],
        details.get("start_temperature_k"),
        details.get("end_temperature_k"),
    )


def current_fill(logged: Iterable[Logged]) -> int:
    """The fill the run is at, 0 before the first."""
    return max((step.details["fill"] for step in logged if step.kind == FILLED), default=0)


def status_after(logged: Sequence[Logged]) -> str:
    """The state of a run as its steps tell it."""
    kinds = {step.kind for step in logged}
    if RETURNED in kinds:
        return "returned"
    if STOPPED in kinds:
        return "stopped"
    return "accepted" if ACCEPTED in kinds else "open"


def may_accept(logged: Sequence[Logged], fill: int) -> bool:
    """Whether a reading of this fill can still end the fills: it is the last, and not purged."""
    kinds = {step.kind for step in logged}
    of_fill = {step.kind for step in logged if step.details.get("fill") == fill}
    is_last = current_fill(logged) == fill and PURGED not in of_fill
    return is_last and not kinds & {ACCEPTED, RETURNED, STOPPED}


def is_correctable(step: Logged, logged: Sequence[Logged]) -> bool:
    """Steps of a fill can be corrected until a step after acceptance is logged or the run ends."""
    closed = {FINAL_PURGE, WATER_FILLED, RETURNED, STOPPED}
    return step.kind in WITH_A_FILL and not closed & {other.kind for other in logged}
