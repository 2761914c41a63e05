"""What would become of a file, added up for a page and for a command."""

import json
from dataclasses import asdict, dataclass, field
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.utils.translation import gettext

from registry.imports.answers import Question
from registry.imports.cells import LABELS as WORD_LABELS
from registry.imports.columns import LABELS
from registry.imports.judge import Fate, Verdict
from registry.imports.known import Key, KnownRegister
from registry.imports.notices import notices
from registry.imports.problems import Problem
from registry.imports.questions import questions
from registry.imports.survey import Survey

GROUPS = 200
QUESTIONS = 200
EXAMPLES = 6
WORDS_SHOWN = 120
CELLS = 96  # squares in which the page shows what becomes of the rows


@dataclass
class RepeatedProblem:
    """Rows with the same thing wrong, for a page that a person can work through."""

    column: str
    wrong: str
    right: str
    question: str = ""  # whose answer would settle it
    count: int = 0
    rows: list[str] = field(default_factory=list)
    typed: list[str] = field(default_factory=list)

    def add(self, row: str, problem: Problem) -> None:
        self.count += 1
        if len(self.rows) < EXAMPLES:
            self.rows.append(row)
        if problem.typed and problem.typed not in self.typed and len(self.typed) < EXAMPLES:
            self.typed.append(problem.typed)


@dataclass
class ImportOutcome:
    rows: int = 0
    new: int = 0
    known: int = 0
    to_fix: int = 0
    left_out: int = 0
    waiting: int = 0  # of the rows to fix: those that answers alone would settle
    similar: int = 0
    systems_new: int = 0
    systems_known: int = 0
    sites_new: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    groups: list[RepeatedProblem] = field(default_factory=list)
    fields: list[dict[str, Any]] = field(default_factory=list)
    words: list[dict[str, Any]] = field(default_factory=list)
    sheets: list[str] = field(default_factory=list)
    sheet: str = ""
    header_row: int = 1
    peek: list[dict[str, Any]] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        """Plain texts: what is stored is not translated again."""
        plain: dict[str, Any] = json.loads(json.dumps(asdict(self), cls=DjangoJSONEncoder))
        return plain


class Count:
    """Adds up verdicts; a system counts as new or known by what it was before this import."""

    def __init__(self, survey: Survey, known: KnownRegister):
        self.survey, self.known = survey, known
        self.was_known = frozenset(known.pk_by_key)
        self.known_sites = frozenset(known.sites)
        self.outcome = ImportOutcome()
        self.systems: set[Key] = set()
        self.sites: dict[str, str] = {}
        self.groups: dict[tuple[str, str], RepeatedProblem] = {}

    def add(self, verdict: Verdict) -> None:
        self.outcome.rows += 1
        self.outcome.similar += verdict.is_similar
        setattr(self.outcome, verdict.fate, getattr(self.outcome, verdict.fate) + 1)
        if verdict.fate == Fate.TO_FIX:
            self.outcome.waiting += all(problem.question for problem in verdict.problems)
            for problem in verdict.problems:
                self._group(verdict.row.name, problem)
        elif verdict.parsed:
            self.systems.add(verdict.parsed.key)
            self.sites.setdefault(verdict.parsed.site.casefold(), verdict.parsed.site)

    def _group(self, row: str, problem: Problem) -> None:
        key = (problem.field, problem.question or problem.wrong)
        if key not in self.groups and len(self.groups) >= GROUPS:
            problem = Problem(gettext("Other"), "", gettext("see the file of rows to fix"), "")
            key = (problem.field, problem.wrong)
        group = self.groups.get(key)
        if group is None:
            group = RepeatedProblem(problem.field, problem.wrong, problem.right, problem.question)
            self.groups[key] = group
        group.add(row, problem)

    def finish(self) -> ImportOutcome:
        outcome = self.outcome
        outcome.systems_known = len(self.systems & self.was_known)
        outcome.systems_new = len(self.systems) - outcome.systems_known
        outcome.sites_new = sorted(
            name for key, name in self.sites.items() if key not in self.known_sites
        )
        outcome.groups = sorted(self.groups.values(), key=lambda group: -group.count)
        asked = questions(self.survey, outcome.similar, self.known.pk_by_key)
        outcome.questions = asked[:QUESTIONS]
        outcome.notices = notices(self.survey)
        if len(asked) > QUESTIONS:
            outcome.notices.append(
                gettext("%(value)s further questions are not shown yet.")
                % {"value": len(asked) - QUESTIONS}
            )
        _describe_file(outcome, self.survey)
        return outcome


def _describe_file(outcome: ImportOutcome, survey: Survey) -> None:
    table = survey.table
    outcome.sheets = [sheet.name for sheet in table.book.sheets if sheet.name]
    outcome.sheet = ", ".join(name for name in table.layout.sheet_names if name)
    outcome.header_row = table.layout.header_row
    outcome.peek = table.peek()
    outcome.fields = [
        {"key": one.key, "name": one.name, "how": one.how, "unit": one.unit, "why": one.why,
         "examples": one.examples, "proposed": one.proposed, "may_be": list(one.may_be)}
        for one in survey.mapping.fields
        if one.examples and one.how != "ours"
    ]  # fmt: skip
    words = sorted(survey.tally.read.values(), key=lambda word: (word.column, -word.count))
    outcome.words = [
        {"field": LABELS[word.column], "typed": word.typed, "rows": word.count,
         "read": WORD_LABELS[word.column].get(word.code, word.code)}
        for word in words[:WORDS_SHOWN]
    ]  # fmt: skip
