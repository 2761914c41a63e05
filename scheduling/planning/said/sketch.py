"""A blank grid with what is known drawn to scale, on which somebody marks where a site lies.

No map and no service beyond the book: sites and depots that have degrees, north up. Metres are
those of a plane that touches the earth in the middle of the sketch.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, log10, radians

METRES_A_DEGREE = 111_195  # of latitude, on a sphere of 6371 km
WIDTH, HEIGHT = 600, 400  # units of the drawing
LEAST_KM, MARGIN, LINES = 40.0, 1.5, 6


@dataclass(frozen=True)
class Known:
    """Something with degrees, north and east positive."""

    name: str
    latitude: float
    longitude: float
    kind: str  # "depot", "site" or "here"


@dataclass(frozen=True)
class Mark:
    name: str
    kind: str
    x: float
    y: float


@dataclass(frozen=True)
class Sketch:
    """`north`, `east`: degrees of the top left corner; `per_x`, `per_y`: degrees a unit."""

    north: float
    east: float
    per_x: float
    per_y: float
    km_a_square: float
    square: float  # side of a square of the grid, in units
    marks: Sequence[Mark]

    @property
    def columns(self) -> list[float]:
        return [n * self.square for n in range(1, int(WIDTH / self.square) + 1)]

    @property
    def rows(self) -> list[float]:
        return [n * self.square for n in range(1, int(HEIGHT / self.square) + 1)]

    @property
    def own(self) -> Mark | None:
        """The site in question, where it has degrees."""
        return next((mark for mark in self.marks if mark.kind == "here"), None)

    @property
    def named(self) -> list[Mark]:
        """Few enough to read; the others are dots with a tip."""
        return [mark for mark in self.marks if mark.kind != "site" or len(self.marks) <= 12]


def sketch_of(known: Sequence[Known]) -> Sketch | None:
    """To scale, half as wide again as what is known and 40 km high at least; None of nothing."""
    if not known:
        return None
    latitudes, longitudes = [one.latitude for one in known], [one.longitude for one in known]
    middle = (min(latitudes) + max(latitudes)) / 2, (min(longitudes) + max(longitudes)) / 2
    narrow = max(0.01, cos(radians(middle[0])))
    high = (max(latitudes) - min(latitudes)) * METRES_A_DEGREE / 1000
    wide = (max(longitudes) - min(longitudes)) * METRES_A_DEGREE * narrow / 1000
    km = max(LEAST_KM / HEIGHT, MARGIN * high / HEIGHT, MARGIN * wide / WIDTH)  # a unit
    per_y = 1000 * km / METRES_A_DEGREE
    per_x = per_y / narrow
    north, east = middle[0] + per_y * HEIGHT / 2, middle[1] - per_x * WIDTH / 2
    side = _round_km(km * HEIGHT / LINES)
    marks = [
        Mark(
            one.name,
            one.kind,
            round((one.longitude - east) / per_x, 1),
            round((north - one.latitude) / per_y, 1),
        )
        for one in known
    ]
    return Sketch(north, east, per_x, per_y, side, side / km, marks)


def _round_km(km: float) -> float:
    """The next of 1, 2, 5, 10, 20 ..."""
    power = 10.0 ** int(log10(km) // 1)
    return next(step * power for step in (1, 2, 5, 10) if step * power >= km * 0.999)
