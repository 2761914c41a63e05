"""Which records stand on the strip, by the mark that their kind has."""

from dataclasses import dataclass
from datetime import datetime

from registry.kinds import KINDS

LETTER_PITCH = 14.0
LEVELS = 3


@dataclass(frozen=True)
class Mark:
    at: datetime
    kind: str
    title: str


MARKS = {code: kind.mark for code, kind in KINDS.items() if kind.mark}


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
