"""Wall readings as page and paper show them."""

from dataclasses import dataclass
from datetime import datetime

from registry.assess.clock import moment
from registry.corrosion.points import MeasuredPoint
from registry.translation import _

CONTRADICTIONS = {
    "thin": _(
        "Thinner than the model expected, by less than one chance in a thousand: attack that needs "
        "no oxygen, air that nobody wrote down, or a gauge that was wrong would explain it. Read "
        "the spot again, scan around it and take a sample of the water."
    ),
    "thick": _(
        "Thicker than the model expected, by less than one chance in a thousand: another pipe, a "
        "rough surface or pipe that drains better than assumed would explain it. Dress the spot "
        "and read it again."
    ),
}


@dataclass(frozen=True)
class PointRow:
    """One wall reading and the arithmetic of API 570: the larger of the long and the short-term
    rate, remaining life from it to the wall that holds the pressure, and half of that.

    structural_life_yr is to the thicker wall of a refinery table that an owner may choose.
    """

    label: str
    at: datetime
    read_um: float
    left_um: float
    long_um_yr: float
    short_um_yr: float | None
    governing_um_yr: float
    needed_um: float
    life_yr: float | None
    half_life_yr: float | None
    structural_life_yr: float | None
    interval_yr: float
    leak_in_5_yr: float
    other_cause: float
    contradicts: str
    has_slowed: bool

    @classmethod
    def of(cls, label: str, point: MeasuredPoint) -> "PointRow":
        return cls(
            label=label,
            at=moment(point.reading.at_yr),
            read_um=1e6 * point.reading.remaining_m,
            left_um=1e6 * point.left_m,
            long_um_yr=1e6 * max(point.long_term, 0.0),
            short_um_yr=None if point.short_term is None else 1e6 * point.short_term,
            governing_um_yr=1e6 * point.governing,
            needed_um=1e6 * point.needed_m,
            life_yr=point.life_yr,
            half_life_yr=point.half_life_yr,
            structural_life_yr=point.structural_life_yr,
            interval_yr=point.interval_yr,
            leak_in_5_yr=point.leak_in_5_yr,
            other_cause=point.other_cause,
            contradicts=str(CONTRADICTIONS[point.contradicts]) if point.contradicts else "",
            has_slowed=point.has_slowed,
        )
