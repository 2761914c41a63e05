"""From a library row to the rule by which it recurs at one site."""

from dataclasses import dataclass
from datetime import date

from scheduling.library.types import LibraryItem
from scheduling.recurrence import Interval, MonthDay, Recurrence, seasonal

FIRST_WITHIN = Interval(1, "month")  # common practice, no source


@dataclass(frozen=True, slots=True)
class Winter:
    """When a site must be ready for frost, and when frost is usually over."""

    ready_by: MonthDay
    over_from: MonthDay

    @property
    def warm_days(self) -> int:
        """From the end of frost to the day the site must be ready for the next."""
        thaw = self.over_from.in_year(2001)
        return (self.ready_by.on_or_after(thaw) - thaw).days


def first_due(interval: Interval, *, counted_from: date, today: date) -> date:
    """When an item with nothing on record is first due: an interval after the day it counts from.

    Where that has passed nobody knows when it was last done, so it is due soon: within a month, or
    within its interval where that is shorter.
    """
    regular = interval.after(counted_from)
    if regular >= today:
        return regular
    return min(interval, FIRST_WITHIN, key=lambda one: one.mean_days).after(today)


def recurrence_for(
    item: LibraryItem,
    *,
    due_on: date,
    winter: Winter | None,
    since: date | None = None,
) -> Recurrence | None:
    """The rule, its first due day being `due_on` or, for seasonal work, the first season's close
    from then on. None where nothing recurs: no interval, or no frost at the site."""
    if item.interval is None or (item.season == "before_freezing" and winter is None):
        return None
    if item.season and winter:
        lead = item.before
        if item.season == "warm_weather":
            lead = Interval(winter.warm_days, "day")
        return seasonal(closes=winter.ready_by, lead=lead, on_or_after=due_on, since=since)
    return Recurrence(
        interval=item.interval,
        first_due=due_on,
        anchor=item.anchor,
        before=item.before,
        after=item.after,
        since=since,
    )
