"""What a record means beyond gas and protection: for water, the pipe itself, the strip."""

from collections.abc import Callable
from enum import Enum, StrEnum
from typing import NamedTuple

from registry.atmosphere.types import LedgerItem, SystemFacts


class Water(StrEnum):
    """What becomes of the water in pipe that holds water. Each fill traps gas and brings oxygen."""

    NONE = "none"
    FLOWS = "flows"  # fresh water runs through full pipe
    FILLS = "fills"
    EMPTIES = "empties"  # drained on purpose, and empty until somebody fills it
    OPENS = "opens"  # water came out of it; filled again within the day, as a rule
    EMPTIES_FOR_RUN = "empties for a run"  # and stays empty until the run has ended
    REFILLS_AFTER_RUN = "refills after a run"  # no fill by itself: only what was emptied
    LEAVES_AFTER_RUN = "leaves after a run"  # stopped: nobody asked whether the water is back


class PipeEvidence(Enum):
    """What a record tells of the pipe itself; `registry.assess.evidence` weighs it."""

    WALL = "wall"
    COUPON = "coupon"
    LEAK = "leak"
    INSIDE = "inside"
    WATER = "water"


class MarkShape(StrEnum):
    """MarkShape first: a strip must read without colour."""

    BREACH = "lets air in"
    INERTING = "inerting accepted"
    READING = "reading"
    WORK = "other work"


class StripMark(NamedTuple):
    shape: MarkShape
    letter: str


WaterJudge = Callable[[LedgerItem, SystemFacts], Water]
