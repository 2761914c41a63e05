"""The only bridge from rows to the corrosion model: ledger -> inputs -> results."""

from datetime import datetime

from registry.assess.books import Book, books_of, read_books
from registry.assess.cases import Case, case_of, overrides_of
from registry.assess.clock import day_of, end_of
from registry.assess.results import Assessed, assess_cases
from registry.corrosion.delay import DelayCost
from registry.models import Assessment, System

__all__ = [
    "Assessed",
    "Book",
    "Case",
    "assess_cases",
    "books_of",
    "case_at",
    "case_of",
    "cost_of_delay",
    "overrides_of",
    "read_books",
]


def case_at(system: System, now: datetime) -> Case | None:
    """What would be assessed at the end of the day of `now`."""
    return case_of(read_books([system.pk], end_of(day_of(now)))[0])


def cost_of_delay(system: System) -> DelayCost | None:
    """What each week until the gas is inert costs, as last assessed; None when not assessed."""
    row = Assessment.objects.latest().filter(system=system).first()
    if row is None or row.delay_points_per_week is None:
        return None
    return DelayCost(row.delay_points_per_week, row.delay_um_per_week / 1e6)
