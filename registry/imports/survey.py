"""First reading of a file: what its rows say of each system, which repeat, what to ask."""

from collections import Counter
from collections.abc import Callable, Container
from dataclasses import dataclass, field
from datetime import date
from hashlib import blake2b
from pathlib import Path

from registry.imports.answers import Answers, Question
from registry.imports.check import ParsedRow, RowChecker, Tally
from registry.imports.dates import DMY, MDY, ORDER_WORDS
from registry.imports.headers import UNIT_DIMENSIONS, Headings, match_headings
from registry.imports.plan import SystemClaims, SystemPlan, plan_system
from registry.imports.problems import ImportFileError, Problem, counted
from registry.imports.reader import SheetRow, open_table
from registry.quantities import QuantityError, parse_quantity


@dataclass
class Survey:
    """Memory grows with the number of systems and one short digest a row, never with the text."""

    headings: Headings
    answers: Answers
    today: date
    rows: int = 0
    tally: Tally = field(default_factory=Tally)
    notices: list[str] = field(default_factory=list)
    plans: dict[tuple[str, str], SystemPlan] = field(default_factory=dict)
    first_seen: dict[bytes, int] = field(default_factory=dict)

    def problems_of(self, parsed: ParsedRow, row: SheetRow) -> list[Problem]:
        """What is wrong with a row only in the company of the others."""
        problems = [
            self.headings.problem(row.cells, conflict.field, conflict.wrong, conflict.right)
            for conflict in self.plans[parsed.key].conflicts
        ]
        first = self.first_seen[digest(parsed)]
        if first != parsed.number:
            problems.append(
                Problem(
                    "Row", "", f"it repeats row {first}",
                    "Delete it; if there are two such pipes, give one row their whole length.",
                )
            )  # fmt: skip
        return problems


def digest(row: ParsedRow) -> bytes:
    return blake2b(repr((row.key, row.run)).encode(), digest_size=12).digest()


def survey_file(
    path: str | Path, *, answers: Answers, today: date, on_row: Callable[[], None] | None = None
) -> Survey:
    with open_table(path) as table:
        survey = Survey(match_headings(table.headings), answers, today)
        _keep_known_units(survey.headings)
        checker = RowChecker(survey.headings, answers, today)
        claims: dict[tuple[str, str], SystemClaims] = {}
        for row in table.rows:
            survey.rows += 1
            parsed, _ = checker.check(row)
            if parsed:
                survey.first_seen.setdefault(digest(parsed), parsed.number)
                if parsed.key not in claims:
                    claims[parsed.key] = SystemClaims(parsed.site, parsed.tag, parsed.number)
                claims[parsed.key].add(parsed)
            if on_row:
                on_row()
    if not survey.rows:
        raise ImportFileError("The file has headings and no rows.")
    survey.tally = checker.tally
    survey.plans = {key: plan_system(claim, answers) for key, claim in claims.items()}
    survey.notices = [*table.notices, *_notices(survey)]
    return survey


def questions(
    survey: Survey, similar: int = 0, known: Container[tuple[str, str]] = ()
) -> list[Question]:
    """Those about the whole file first, then those about one system each.

    The gas supply of a `known` system is not asked: the register has it, and is where to change it.
    """
    asked = []
    tally, answers = survey.tally, survey.answers
    if tally.ambiguous_dates or answers.date_order:
        asked.append(_date_question(tally))
    if tally.bare_lengths or answers.length_unit:
        asked.append(
            Question(
                "length_unit",
                "In which unit are the lengths that have none?",
                (("m", "metres"), ("ft", "feet")),
                _some(tally.bare_lengths),
            )
        )
    if similar:
        asked.append(
            Question(
                "similar",
                "Some rows look like pipe runs that are in the register already, with another "
                "length, wall or date. Are they further pipe, or the same pipe corrected?",
                (("leave", "The same pipe: leave them out, I correct the register there"),
                 ("add", "Further pipe: add them")),
                counted(similar, "row"),
            )
        )  # fmt: skip
    per_system = [
        question
        for key, plan in survey.plans.items()
        for question in plan.questions
        if key not in known or not question.is_only_a_fact
    ]
    return asked + sorted(per_system, key=lambda question: question.is_only_a_fact)


def _date_question(tally: Tally) -> Question:
    proofs = tally.date_orders
    proposed = ""
    if len(proofs) == 1:
        order, count = next(iter(proofs.items()))
        proposed = f"{counted(count, 'other date')} can only be {ORDER_WORDS[order]}."
    elif proofs:
        proposed = (
            "The file has dates that can only be the one and dates that can only be the other."
        )
    return Question(
        "date_order",
        "Which order do dates such as 3/4/2001 have in this file?",
        ((DMY, "day/month/year: 3 April 2001"), (MDY, "month/day/year: 4 March 2001")),
        _some(tally.ambiguous_dates),
        proposed,
    )


def _some(texts: list[str]) -> str:
    shown = list(dict.fromkeys(texts))[:5]
    more = " ..." if len(texts) > len(shown) else ""
    return f"{counted(len(texts), 'row')}: {', '.join(shown)}{more}."


def _keep_known_units(headings: Headings) -> None:
    """“Length (m)” gives a unit; “Length (approx.)” does not."""
    for name in UNIT_DIMENSIONS & headings.units.keys():
        dimension = "pressure" if name.endswith("pressure") else name
        try:
            parse_quantity(f"1 {headings.units[name]}", dimension)
        except QuantityError:
            del headings.units[name]


def _notices(survey: Survey) -> list[str]:
    tally, notices = survey.tally, []
    if survey.headings.unknown:
        names = ", ".join(f"“{name}”" for name in survey.headings.unknown)
        notices.append(f"These columns are not known and were not read: {names}.")
    by_unit: Counter[str] = Counter()
    for (_typed, unit), count in tally.bare_pressures.items():
        by_unit[unit] += count
    for unit, count in by_unit.items():
        notices.append(
            f"{counted(count, 'rated pressure')} without a unit read as {unit}: in no other unit "
            "would the number rate a sprinkler component."
        )
    if tally.read_as_no:
        notices.append(
            f"“N” for the gas supply was read as no in {counted(tally.read_as_no, 'row')}."
        )
    if tally.light_wall_rows:
        notices.append(
            f"Schedule 10 in size 8 or 10: {counted(tally.light_wall_rows, 'row')}. Sprinkler pipe "
            "of these sizes is often light-wall, 0.188 in: if so, write schedule “light”."
        )
    summed = Counter(notice for plan in survey.plans.values() for notice in plan.notices)
    notices += [f"In {counted(count, 'system')} {notice}." for notice, count in summed.items()]
    return notices
