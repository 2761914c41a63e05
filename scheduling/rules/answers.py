"""Which record answers which work; pure, and read by the rules and by the closing."""

from collections.abc import Sequence

from registry.kinds.events import DRAIN_DOWN, DRUM_DRIP, REPAIR
from registry.kinds.facts import FACTS_AMENDED
from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.kinds.readings import GAS_READING, OBSTRUCTION_FINDING
from registry.kinds.steps import ACCEPTED, READ, RETURNED
from scheduling.rules.types import Details, Line

GAS_READINGS = (GAS_READING, READ, ACCEPTED)
"""Each tells what the gas is; only the last that the run is over."""


def first_answer(answers: Sequence[Line], state: str) -> Line | None:
    return answers[0] if answers else None


def acceptance_or_proof(readings: Sequence[Line], state: str) -> Line | None:
    """The return to service after an acceptance, the acceptance, or the last reading where that
    proved the system inert."""
    accepted = [line for line in readings if line.kind == ACCEPTED.code]
    if accepted:
        back = (line for line in readings if line.kind == RETURNED.code)
        return next((line for line in back if line.sequence > accepted[0].sequence), accepted[0])
    readings = [line for line in readings if line.kind != RETURNED.code]
    return readings[-1] if readings and state == "inert" else None


def clears_the_bore(kind: str, details: Details) -> bool:
    if kind == OBSTRUCTION_FINDING.code:
        return details.get("finding") == "clear"
    is_look_inside = (
        kind == INSPECTION_COMPLETED.code and details.get("item") == "internal-assessment"
    )
    return is_look_inside and details.get("found") == "none"


def renews_pipe(kind: str, details: Details) -> bool:
    return kind == REPAIR.code and details.get("pipe_opened") == "yes"


def empties_low_points(kind: str, details: Details) -> bool:
    return kind in (DRAIN_DOWN.code, DRUM_DRIP.code) or (
        kind == INSPECTION_COMPLETED.code and details.get("item") == "low-point-drains"
    )


def restores_supply(kind: str, details: Details) -> bool:
    """A repair, or another supply entered into the register."""
    return kind == REPAIR.code or (kind == FACTS_AMENDED.code and "gas_supply" in details)
