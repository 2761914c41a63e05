"""Where an inerting run stands and what comes next, told from the steps logged so far.

Pure: no database, no clock. A step is named by its kind and the fill it belongs to, and that name
travels with every form, so that an entry which arrives late cannot be taken for another step.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from registry.kinds import steps as kinds

STARTED = kinds.STARTED.code
FILLED = kinds.FILLED.code
READ = kinds.READ.code
PURGED = kinds.PURGED.code
ACCEPTED = kinds.ACCEPTED.code
FINAL_PURGE = kinds.FINAL_PURGE.code
WATER_FILLED = kinds.WATER_FILLED.code
RETURNED = kinds.RETURNED.code
STOPPED = kinds.STOPPED.code

OF_A_FILL = (FILLED, READ, PURGED)
CLOSING_WET = (FINAL_PURGE, WATER_FILLED, RETURNED)
CLOSING_GAS = (RETURNED,)
LOGGABLE = (*OF_A_FILL, *CLOSING_WET)
PREFIX = "inerting."
MOST_FILLS = 50


class Logged(Protocol):
    """What a step needs to show of itself; a ledger record does."""

    kind: str
    details: Mapping[str, Any]


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
        has_right_fill = (step.kind in OF_A_FILL) == (0 < step.fill <= MOST_FILLS)
        if step.kind not in LOGGABLE or not has_right_fill or step.token != token:
            raise ValueError(f"“{token}” is not a step of an inerting run")
        return step


def next_step(logged: Sequence[Logged], *, takes_water: bool) -> RunStep | None:
    """What is to be done now, or None when the run has ended.

    Pipe that holds gas in service is not vented to zero after acceptance: it keeps its nitrogen.
    """
    kinds = {step.kind for step in logged}
    if kinds & {RETURNED, STOPPED}:
        return None
    if ACCEPTED in kinds:
        closing = CLOSING_WET if takes_water else CLOSING_GAS
        return next(RunStep(kind) for kind in closing if kind not in kinds)
    return _step_of_fill(logged)


def _step_of_fill(logged: Sequence[Logged]) -> RunStep:
    fill = current_fill(logged)
    if not fill:
        return RunStep(FILLED, 1)
    done = {step.kind for step in logged if step.details.get("fill") == fill}
    if PURGED in done:
        return RunStep(FILLED, fill + 1)
    return RunStep(PURGED, fill) if READ in done else RunStep(READ, fill)


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
    step = next_step(logged, takes_water=True)
    return (
        ACCEPTED not in kinds
        and step is not None
        and step.kind in (READ, PURGED)
        and step.fill == fill
    )


def is_correctable(step: Logged, logged: Sequence[Logged]) -> bool:
    """Steps of a fill can be corrected until a step after acceptance is logged or the run ends."""
    closed = {FINAL_PURGE, WATER_FILLED, RETURNED, STOPPED}
    return step.kind in OF_A_FILL and not closed & {other.kind for other in logged}
