"""Sample tests of sprinklers by type and edition: the table, and the day the next one is due."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache

from scheduling.library.loading import editions, read_rows, whole_number
from scheduling.library.types import Edition
from scheduling.recurrence import SampleRule, earliest_sample_test

TYPES = ("standard_response", "fast_response", "dry", "extra_high_temperature")
ENVIRONMENTS = ("harsh", "harsh_resistant")


@dataclass(frozen=True, slots=True)
class SprinklerTest:
    key: str
    title: str
    standard: str
    edition_from: int | None
    edition_to: int | None
    rule: SampleRule
    source: str
    how_known: str
    note: str

    def covers(self, edition: Edition) -> bool:
        first, last = self.edition_from or edition.year, self.edition_to or edition.year
        return edition.standard == self.standard and first <= edition.year <= last


@cache
def sprinkler_tests() -> tuple[SprinklerTest, ...]:
    return tuple(_test(row) for row in read_rows("sprinkler_tests.csv"))


def sprinkler_test(key: str, edition: Edition) -> SprinklerTest | None:
    """The row for a type in an edition or in the one it amends; None where there is none."""
    for test in sprinkler_tests():
        if test.key == key and test.covers(edition):
            return test
    return sprinkler_test(key, editions()[edition.amends]) if edition.amends else None


def sample_test_due(
    *,
    sprinkler_type: str,
    edition: Edition,
    installed_on: date,
    environment: str = "",
    last_tested_on: date | None = None,
) -> date | None:
    """When the next sample is due; a harsh environment can only bring it forward."""
    keys = [sprinkler_type, *([environment] if environment else [])]
    tests = [test for key in keys if (test := sprinkler_test(key, edition))]
    if not tests:
        return None
    return earliest_sample_test((test.rule for test in tests), installed_on, last_tested_on)


def _test(row: Mapping[str, str]) -> SprinklerTest:
    return SprinklerTest(
        key=row["key"],
        title=row["title"],
        standard=row["standard"],
        edition_from=whole_number(row["edition_from"]),
        edition_to=whole_number(row["edition_to"]),
        rule=SampleRule(
            first_years=int(row["first_years"]),
            then_years=int(row["then_years"]),
            later_from_years=whole_number(row["later_from_years"]),
            later_years=whole_number(row["later_years"]),
        ),
        source=row["source"],
        how_known=row["how_known"],
        note=row["note"],
    )
