"""Whether a measurement can be believed, and what was probably meant. Pure."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from math import isfinite
from typing import Any

from registry.kinds.parts import Field
from registry.plausibility.table import (
    AIR_CHECK,
    CALIBRATION,
    DIMENSIONS,
    LIMITS,
    NITROGEN,
    PRESSURE,
    REGULATOR,
    TEMPERATURE,
    WALL,
    ZERO_CHECK,
    Answer,
    Limit,
)
from registry.quantities import format_quantity

OF_THE_ANALYSER = {
    "analyser_calibrated_on": CALIBRATION,
    "air_o2_percent": AIR_CHECK,
    "zero_o2_percent": ZERO_CHECK,
}


@dataclass(frozen=True, slots=True)
class Suggestion:
    words: str
    value: float


@dataclass(frozen=True, slots=True)
class Judged:
    """A measurement that is asked about: the limit it passes, and what may have been meant."""

    limit: Limit
    value: float
    of: float | None
    suggestions: tuple[Suggestion, ...]


def sense_of(field: Field) -> str:
    """Which limits a field of a record is held against; empty for none."""
    if field.name in ("n2_percent", "feed_n2_percent"):
        return NITROGEN
    if field.name in OF_THE_ANALYSER:
        return OF_THE_ANALYSER[field.name]
    if field.name.startswith("cylinder_"):
        return ""  # the sense of a cylinder is what is asked for
    if field.dimension == "pressure":
        return REGULATOR if field.name.startswith("regulator") else PRESSURE
    if field.dimension == "temperature":
        return TEMPERATURE
    return WALL if field.name == "wall_mm" else ""


def judge(sense: str, value: float, known: Mapping[str, float | None]) -> Judged | None:
    """The first limit that a value passes. `known` holds what the limits are multiples of."""
    for limit in LIMITS:
        if limit.sense == sense and _is_met(limit, value, known):
            of = known.get(limit.of) if limit.of else None
            return Judged(limit, value, of, _suggestions(limit, value, of, known))
    return None


def _is_met(limit: Limit, value: float, known: Mapping[str, float | None]) -> bool:
    unit = known.get(limit.of) if limit.of else 1.0
    if not unit or (limit.only and not known.get(limit.only)):
        return False
    is_low = limit.below is not None and value < limit.below * unit
    return is_low or (limit.above is not None and value > limit.above * unit)


def _suggestions(
    limit: Limit, value: float, of: float | None, known: Mapping[str, float | None]
) -> tuple[Suggestion, ...]:
    found = (Suggestion(answer.words, answered(answer, value)) for answer in limit.answers)
    pairs = zip(limit.answers, found, strict=True)
    unit = known.get("planned") or of or 1.0
    unit = unit if limit.of else 1.0
    return tuple(said for answer, said in pairs if answer.least <= said.value / unit <= answer.most)


def says(judged: Judged, units: str) -> str:
    """What is said of it, in the person's units."""
    dimension = DIMENSIONS.get(judged.limit.sense)
    if dimension is None:
        return str(judged.limit.says).format(value=f"{judged.value:.0f}")
    of = "" if judged.of is None else format_quantity(judged.of, dimension, units)
    value = format_quantity(judged.value, dimension, units)
    return str(judged.limit.says).format(value=value, of=of)


def answered(answer: Answer, value: float) -> float:
    return round(answer.scale * value + answer.shift, 9)


def as_data() -> list[dict[str, Any]]:
    """The table for the phone, which judges by the same limits: JSON, without infinities."""
    return [_row(limit) for limit in LIMITS]


def _row(limit: Limit) -> dict[str, Any]:
    row = asdict(limit)
    row["says"] = str(limit.says)
    row["causes"] = [str(cause) for cause in limit.causes]
    row["answers"] = [
        {
            name: str(value) if name == "words" else value
            for name, value in asdict(answer).items()
            if name == "words" or isfinite(value)
        }
        for answer in limit.answers
    ]
    return row
