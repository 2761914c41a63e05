"""The place on a system where a wall reading tells most, for whoever goes there anyway."""

from dataclasses import dataclass
from datetime import datetime

from registry.assess.books import Pipe, read_books
from registry.assess.cases import case_of
from registry.assess.clock import day_of, end_of
from registry.assess.details import Detail
from registry.corrosion.where import WallPoint
from registry.models import System

LEAST_WORTH = 0.005
"""Score points below which no reading would change what is best to do."""


@dataclass(frozen=True)
class Place:
    """worth: score points by which the choice between acting and leaving it gets better."""

    run: Pipe
    point: WallPoint

    @property
    def clock(self) -> str:
        return clock_text(self.point.clock) if self.point.clock else ""


def place_worth_measuring(system: System, now: datetime) -> Place | None:
    """None where no reading is expected to be worth anything."""
    case = case_of(read_books([system.pk], end_of(day_of(now)))[0])
    if case is None:
        return None
    found = [Place(*one) for one in Detail(case).wall_points]
    return next((place for place in found if place.point.worth >= LEAST_WORTH), None)


def clock_text(hours: tuple[float, float]) -> str:
    """To the quarter of an hour."""
    quarters = [round(4 * hour) for hour in hours]
    return " and ".join(f"{quarter // 4 or 12}:{quarter % 4 * 15:02d}" for quarter in quarters)
