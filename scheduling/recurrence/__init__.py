"""When recurring work falls due: pure, in whole days at the site, without a clock of its own."""

from scheduling.recurrence.days import day_end, day_start, local_day
from scheduling.recurrence.fire_watch import Clock, Outage, clock
from scheduling.recurrence.intervals import NO_TIME, UNITS, Interval, parse_interval
from scheduling.recurrence.planning import (
    judge,
    next_slot,
    plan,
    slot_due,
    slots_ahead,
    standing,
)
from scheduling.recurrence.sprinklers import (
    SampleRule,
    earliest_sample_test,
    next_sample_test,
    sample_size,
)
from scheduling.recurrence.types import (
    Anchor,
    Done,
    MonthDay,
    Outcome,
    Plan,
    PlannedSlot,
    Recurrence,
    Settled,
    Stage,
    TimeLeft,
    Timing,
    seasonal,
)

__all__ = [
    "NO_TIME",
    "UNITS",
    "Anchor",
    "Clock",
    "Done",
    "Interval",
    "MonthDay",
    "Outage",
    "Outcome",
    "Plan",
    "Recurrence",
    "SampleRule",
    "Settled",
    "PlannedSlot",
    "Stage",
    "TimeLeft",
    "Timing",
    "clock",
    "day_end",
    "day_start",
    "earliest_sample_test",
    "judge",
    "local_day",
    "next_sample_test",
    "next_slot",
    "parse_interval",
    "plan",
    "sample_size",
    "seasonal",
    "slot_due",
    "slots_ahead",
    "standing",
]
