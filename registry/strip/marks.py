"""Which records stand on the strip, and the shape that says what they did to the gas."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

LETTER_PITCH = 14.0
LEVELS = 3


class Shape(StrEnum):
    """Shape first: a strip must read without colour."""

    BREACH = "lets air in"
    INERTING = "inerting accepted"
    READING = "reading"
    WORK = "other work"


@dataclass(frozen=True)
class Mark:
    at: datetime
    kind: str
    title: str


MARKS: dict[str, tuple[Shape, str]] = {
    "event.drain_down": (Shape.BREACH, "D"),
    "event.trip": (Shape.BREACH, "T"),
    "event.head_break": (Shape.BREACH, "H"),
    "event.fire": (Shape.BREACH, "F"),
    "event.leak": (Shape.BREACH, "L"),
    "event.gas_loss": (Shape.BREACH, "G"),
    "event.air_makeup": (Shape.BREACH, "A"),
    "inerting.accepted": (Shape.INERTING, "N"),
    "event.repair": (Shape.WORK, "R"),
    "event.impairment_start": (Shape.WORK, "I"),
    "inerting.stopped": (Shape.WORK, "S"),
    "reading.gas": (Shape.READING, ""),
}


def letter_levels(places: list[tuple[float, str]]) -> list[int | None]:
    """The lane of each letter, lowest first; None when no lane is free or there is no letter."""
    last = [float("-inf")] * LEVELS
    return [_take_level(x, last) if letter else None for x, letter in places]


def _take_level(x: float, last: list[float]) -> int | None:
    for level, taken in enumerate(last):
        if x - taken >= LETTER_PITCH:
            last[level] = x
            return level
    return None
