"""What recurs and how: the rule, the slot it plans, and what became of it."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from scheduling.recurrence.intervals import NO_TIME, Interval, add_months


class Anchor(StrEnum):
    COMPLETION = "completion"  # the interval counts from the day the work was last done
    CALENDAR = "calendar"  # the due days are fixed, whenever the work is done


class Outcome(StrEnum):
    COMPLETED = "completed"
    SKIPPED = "skipped"


class Timing(StrEnum):
    EARLY = "early"
    ON_TIME = "on_time"
    LATE = "late"
    SKIPPED = "skipped"
    MISSED = "missed"


class Stage(StrEnum):
    AHEAD = "ahead"  # the window has not opened
    OPEN = "open"
    TOLERATED = "tolerated"  # past its due day, within the window after it
    LATE = "late"


@dataclass(frozen=True, slots=True)
class MonthDay:
    """A day of every year; 29 February falls on the 28th where there is none."""

    month: int
    day: int

    def __post_init__(self) -> None:
        date(2000, self.month, self.day)  # raises ValueError for a day no year has

    def in_year(self, year: int) -> date:
        return add_months(date(2000, self.month, self.day), 12 * (year - 2000))

    def on_or_after(self, day: date) -> date:
        this_year = self.in_year(day.year)
        return this_year if this_year >= day else self.in_year(day.year + 1)


@dataclass(frozen=True, slots=True)
class Recurrence:
    """How one item recurs at one system.

    `first_due` is the due day before anything is on record; a fixed calendar counts all its due
    days from there. `since` is the day the rule came into force: it asks for nothing earlier, so
    that a new edition or a shorter interval never makes work late that was on time before.
    """

    interval: Interval
    first_due: date
    anchor: Anchor = Anchor.COMPLETION
    before: Interval = NO_TIME
    after: Interval = NO_TIME
    since: date | None = None

    def __post_init__(self) -> None:
        if self.interval.count < 1:
            raise ValueError(f"interval {self.interval.text} is below one {self.interval.unit}")
        for name, width in (("before", self.before), ("after", self.after)):
            if width.mean_days >= self.interval.mean_days:
                raise ValueError(
                    f"window {name} {width.text} is not shorter than the interval "
                    f"{self.interval.text}"
                )


@dataclass(frozen=True, slots=True)
class PlannedSlot:
    """One planned occurrence: its due day, and the window in which doing it is on time."""

    due_on: date
    opens_on: date
    closes_on: date


@dataclass(frozen=True, slots=True)
class Done:
    """What is on record: done on a day, or skipped, naming the due day that was let go."""

    on: date
    outcome: Outcome = Outcome.COMPLETED
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class Settled:
    """What became of a slot. `days` counts how early before the window, or how late after it."""

    slot: PlannedSlot
    timing: Timing
    days: int = 0
    done_on: date | None = None


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """Where an open slot stands on a day: days to its window, to its close, or past it."""

    stage: Stage
    days: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The slots that are settled, work done outside any window, and the slot that is open."""

    settled: tuple[Settled, ...]
    extra: tuple[Done, ...]
    open: PlannedSlot


def seasonal(
    *,
    closes: MonthDay,
    lead: Interval,
    on_or_after: date,
    years: int = 1,
    since: date | None = None,
) -> Recurrence:
    """Work that must be done by a day of the year, for example before freezing weather, and not
    sooner than `lead` before it: heat that was found working in June says little of November."""
    return Recurrence(
        interval=Interval(years, "year"),
        first_due=closes.on_or_after(on_or_after),
        anchor=Anchor.CALENDAR,
        before=lead,
        since=since,
    )
