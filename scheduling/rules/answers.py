"""Which record answers which kind of follow-up; pure, and read by the rules and by the closing."""

from collections.abc import Callable, Mapping
from typing import Any

ACCEPTED = "inerting.accepted"
READINGS = ("reading.gas", "inerting.read", ACCEPTED)
INSPECTION = "inspection.completed"
WANTED = "request.inerting"

Details = Mapping[str, Any]


def clears_the_bore(kind: str, details: Details) -> bool:
    if kind == "reading.obstruction":
        return details.get("finding") == "clear"
    is_look_inside = kind == INSPECTION and details.get("item") == "internal-assessment"
    return is_look_inside and details.get("found") == "none"


def renews_pipe(kind: str, details: Details) -> bool:
    return kind == "event.repair" and details.get("pipe_opened") == "yes"


def empties_low_points(kind: str, details: Details) -> bool:
    return kind == "event.drain_down" or (
        kind == INSPECTION and details.get("item") == "low-point-drains"
    )


def restores_supply(kind: str, details: Details) -> bool:
    """A repair, or another supply entered into the register."""
    return kind == "event.repair" or (kind == "register.amended" and "gas_supply" in details)


ANSWERS: Mapping[str, Callable[[str, Details], bool]] = {
    "obstruction": clears_the_bore,
    "replacement": renews_pipe,
    "low_points": empties_low_points,
    "gas_supply": restores_supply,
}
"""By the kind of follow-up; those on the gas itself are judged in `scheduling.rules.closing`."""

ANSWERING = (
    "reading.obstruction",
    "event.repair",
    "event.drain_down",
    "register.amended",
    INSPECTION,
)
"""The kinds of record among which an answer may be."""
