"""What recurs, how often and on whose word: the library of items as data, by edition. Pure."""

from scheduling.library.choosing import for_editions, items_for, questions_for
from scheduling.library.loading import LibraryError, editions, items, titles
from scheduling.library.recurring import Winter, first_due, recurrence_for
from scheduling.library.sprinklers import (
    SprinklerTest,
    sample_test_due,
    sprinkler_test,
    sprinkler_tests,
)
from scheduling.library.types import (
    CHECK_EDITION,
    CONDITIONS,
    GOOD_PRACTICE,
    GROUPS,
    HOW_KNOWN,
    SEASONS,
    Choice,
    Condition,
    Edition,
    LibraryItem,
)

__all__ = [
    "CHECK_EDITION",
    "GOOD_PRACTICE",
    "CONDITIONS",
    "GROUPS",
    "HOW_KNOWN",
    "SEASONS",
    "Choice",
    "Condition",
    "Edition",
    "LibraryError",
    "LibraryItem",
    "SprinklerTest",
    "Winter",
    "editions",
    "first_due",
    "for_editions",
    "items",
    "items_for",
    "questions_for",
    "recurrence_for",
    "sample_test_due",
    "sprinkler_test",
    "sprinkler_tests",
    "titles",
]
