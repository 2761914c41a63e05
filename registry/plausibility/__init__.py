"""What can hardly be true of a measurement: one table, for forms, runs, imports and the phone."""

from registry.plausibility.judging import Judged, Suggestion, as_data, judge, says, sense_of
from registry.plausibility.table import LIMITS, Limit

__all__ = ["LIMITS", "Judged", "Limit", "Suggestion", "as_data", "judge", "says", "sense_of"]
