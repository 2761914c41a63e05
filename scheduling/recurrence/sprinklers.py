"""When a sample of sprinklers is due for test, by type and age, and how large the sample is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from scheduling.recurrence.intervals import Interval

LEAST_SAMPLE = 4


@dataclass(frozen=True, slots=True)
class SampleRule:
    """First test at an age, repeated; from `later_from` years of age on, repeated more often."""

    first_years: int
    then_years: int
    later_from_years: int | None = None
    later_years: int | None = None

    def __post_init__(self) -> None:
        if min(self.first_years, self.then_years, self.later_years or 1) < 1:
            raise ValueError("a sample test recurs after whole years, 1 or more")
        if (self.later_from_years is None) != (self.later_years is None):
            raise ValueError("later_from_years and later_years go together")


def sample_size(sprinklers: int) -> int:
    """One in a hundred of the sprinklers of a sample area, rounded up, and no fewer than four
    (or all, where there are fewer). NFPA 25, read second hand; check the adopted edition."""
    if sprinklers < 1:
        raise ValueError(f"sprinklers {sprinklers} is below 1")
    return min(sprinklers, max(LEAST_SAMPLE, -(-sprinklers // 100)))


def next_sample_test(
    rule: SampleRule, installed_on: date, last_tested_on: date | None = None
) -> date:
    """The day by which the next sample is due."""
    first = _years_after(installed_on, rule.first_years)
    if last_tested_on is None or last_tested_on < installed_on:
        return first
    regular = _years_after(last_tested_on, rule.then_years)
    if rule.later_from_years is None or rule.later_years is None:
        return regular
    turning = _years_after(installed_on, rule.later_from_years)
    if last_tested_on >= turning:
        return _years_after(last_tested_on, rule.later_years)
    return min(regular, turning)


def earliest_sample_test(
    rules: Iterable[SampleRule], installed_on: date, last_tested_on: date | None = None
) -> date:
    """Where several rules hold (a type, and a harsh environment), the first due day counts."""
    return min(next_sample_test(rule, installed_on, last_tested_on) for rule in rules)


def _years_after(day: date, years: int) -> date:
    return Interval(years, "year").after(day)
