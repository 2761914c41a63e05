"""One lateness: days past the last day that was asked for, over follow-ups and inspections alike.

A follow-up is late from `due_at` on, an inspection from `late_at` on; both are the end of the last
day at the site, so both are told by the same words, and counted together.
"""

from scheduling.lateness.querysets import LateCounts, late_counts, with_lateness
from scheduling.lateness.words import days_late, late_words

__all__ = ["LateCounts", "days_late", "late_counts", "late_words", "with_lateness"]
