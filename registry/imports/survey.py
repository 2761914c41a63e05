"""First reading of a file: what its rows say of each system, and which repeat."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from hashlib import blake2b

from django.utils.translation import gettext

from registry.imports.answers import Answers
from registry.imports.body import Passed
from registry.imports.check import Checked, RowChecker
from registry.imports.mapping import Mapping
from registry.imports.parsed import ParsedRow
from registry.imports.plan import SystemClaims, SystemPlan, plan_system
from registry.imports.problems import ImportFileError, Problem
from registry.imports.reading import SheetRow
from registry.imports.sniff import Conventions, sniff
from registry.imports.table import Table
from registry.imports.tally import Tally

REPEATS = "repeats"  # on a row that says nothing new


@dataclass
class Survey:
    """Memory grows with the number of systems and one short digest a row, never with the text."""

    table: Table
    answers: Answers
    today: date
    conventions: Conventions = field(default_factory=Conventions)
    passed: Passed = field(default_factory=Passed)
    tally: Tally = field(default_factory=Tally)
    plans: dict[tuple[str, str], SystemPlan] = field(default_factory=dict)
    first_seen: dict[bytes, str] = field(default_factory=dict)
    left_out: dict[str, int] = field(default_factory=dict)

    @property
    def mapping(self) -> Mapping:
        return self.table.mapping

    @property
    def rows(self) -> int:
        return self.conventions.rows

    @cached_property
    def checker(self) -> RowChecker:
        return RowChecker(self.mapping, self.answers, self.today, self.conventions)

    def problems_of(self, parsed: ParsedRow, row: SheetRow) -> list[Problem]:
        """What is wrong with a row only in the company of the others."""
        problems = [
            self.mapping.problem(
                row.cells, conflict.field, conflict.wrong, conflict.right, conflict.question
            )
            for conflict in self.plans[parsed.key].conflicts
        ]
        first = self.first_seen[digest(parsed)]
        if first != parsed.name:
            problems.append(
                Problem(
                    gettext("Row"),
                    "",
                    (gettext("it repeats row %(first)s") % {"first": first}),
                    gettext(
                        "Delete it; if there are two such pipes, give one row their whole length."
                    ),
                    REPEATS,
                )
            )
        return problems


def digest(row: ParsedRow) -> bytes:
    return blake2b(repr((row.key, row.run)).encode(), digest_size=12).digest()


def survey_table(
    table: Table,
    *,
    answers: Answers,
    today: date,
    on_row: Callable[[], None] | None = None,
    on_count: Callable[[int], None] | None = None,
) -> Survey:
    survey = Survey(table, answers, today)
    survey.conventions = sniff(table.rows(), table.mapping, answers)
    survey.passed = table.body.passed
    if not survey.rows:
        raise ImportFileError(gettext("The file has headings and no rows."))
    if on_count:
        on_count(survey.rows)
    checker = survey.checker
    claims: dict[tuple[str, str], SystemClaims] = {}
    for row in table.rows():
        _claim(checker.check(row), survey, claims)
        if on_row:
            on_row()
    survey.tally = checker.finish()
    for key in list(claims):  # each goes as its plan is made
        survey.plans[key] = plan_system(claims.pop(key), answers)
    return survey


def _claim(checked: Checked, survey: Survey, claims: dict[tuple[str, str], SystemClaims]) -> None:
    if checked.left_out:
        survey.left_out[checked.left_out] = survey.left_out.get(checked.left_out, 0) + 1
    parsed = checked.parsed
    if parsed is None:
        return
    survey.first_seen.setdefault(digest(parsed), parsed.name)
    if parsed.key not in claims:
        claims[parsed.key] = SystemClaims(parsed.site, parsed.tag, parsed.name)
    claims[parsed.key].add(parsed)
