"""One system as plain data: what its page says beyond what is stored of each assessment."""

from typing import Any

from registry.assess.details import Detail
from registry.corrosion.points import MeasuredPoint

MM = 1000.0


def said(detail: Detail) -> dict[str, Any]:
    """Measured points with the arithmetic of API 570, the next look, and where to measure; a run
    is its row among the runs."""
    look, runs = detail.next_look, detail.case.book.runs
    return {
        "measured_points": [_point(runs.index(run), point) for run, point in detail.points],
        "next_look": {"within_yr": look.years, "by": look.by, "run": look.run},
        "where_to_measure": [
            {
                "run": runs.index(run),
                "clock": list(point.clock) if point.clock else None,
                "text": point.text,
                "worth_points": point.worth,
                "chance_to_change_what_is_best": point.changes,
            }
            for run, point in detail.wall_points
        ],
    }


def _point(run: int, point: MeasuredPoint) -> dict[str, Any]:
    return {
        "run": run,
        "at_yr": point.reading.at_yr,
        "read_mm": MM * point.reading.remaining_m,
        "left_mm": MM * point.left_m,
        "long_term_mm_yr": MM * point.long_term,
        "short_term_mm_yr": None if point.short_term is None else MM * point.short_term,
        "governing_mm_yr": MM * point.governing,
        "needed_mm": MM * point.needed_m,
        "life_yr": point.life_yr,
        "half_life_yr": point.half_life_yr,
        "structural_life_yr": point.structural_life_yr,
        "interval_yr": point.interval_yr,
        "leak_in_5_yr": point.leak_in_5_yr,
        "chance_of_other_cause": point.other_cause,
        "contradicts": point.contradicts or None,
    }
