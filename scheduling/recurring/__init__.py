"""Recurring inspection, testing and maintenance: every write, and what the pages read."""

from scheduling.recurring.at_system import library_of
from scheduling.recurring.completing import (
    complete_occurrence,
    skip_occurrence,
    withdraw_inspection,
)
from scheduling.recurring.owning import restore_item, save_item
from scheduling.recurring.setting import (
    adopt_edition,
    answer_questions,
    give_up_edition,
    save_area,
    set_last_done,
    set_winter,
)
from scheduling.recurring.upkeep import plan_recurring, plan_site

__all__ = [
    "adopt_edition",
    "answer_questions",
    "complete_occurrence",
    "give_up_edition",
    "library_of",
    "plan_recurring",
    "plan_site",
    "restore_item",
    "save_area",
    "save_item",
    "set_last_done",
    "set_winter",
    "skip_occurrence",
    "withdraw_inspection",
]
