"""A register file against the book: what would happen, or happens when somebody imports it."""

import csv
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO

from django.db import transaction

from registry.imports.answers import Answers, Question
from registry.imports.headers import PROBLEM, RIGHT
from registry.imports.judge import Fate, Verdict, checked_chunks, judge, keys_of
from registry.imports.known import Key, KnownRegister
from registry.imports.problems import Problem
from registry.imports.survey import Survey, questions, survey_file
from registry.imports.write import Writer
from registry.models import Organisation, User

GROUPS = 200
QUESTIONS = 200
EXAMPLES = 6


@dataclass
class RepeatedProblem:
    """Rows with the same thing wrong, for a page that a person can work through."""

    column: str
    wrong: str
    right: str
    count: int = 0
    rows: list[int] = field(default_factory=list)
    typed: list[str] = field(default_factory=list)

    def add(self, row: int, problem: Problem) -> None:
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
    mend: int = 0
    similar: int = 0
    systems_new: int = 0
    systems_known: int = 0
    sites_new: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    groups: list[RepeatedProblem] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


class _Count:
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
        if verdict.fate == Fate.MEND:
            for problem in verdict.problems:
                self._group(verdict.row.number, problem)
        elif verdict.parsed:
            self.systems.add(verdict.parsed.key)
            self.sites.setdefault(verdict.parsed.site.casefold(), verdict.parsed.site)

    def _group(self, row: int, problem: Problem) -> None:
        key = (problem.field, problem.wrong)
        if key not in self.groups and len(self.groups) >= GROUPS:
            problem = Problem("Other", "", "see the file of rows to mend", "")
            key = (problem.field, problem.wrong)
        group = self.groups.setdefault(
            key, RepeatedProblem(problem.field, problem.wrong, problem.right)
        )
        group.add(row, problem)

    def finish(self) -> ImportOutcome:
        outcome = self.outcome
        outcome.systems_known = len(self.systems & self.was_known)
        outcome.systems_new = len(self.systems) - outcome.systems_known
        outcome.sites_new = sorted(
            name for key, name in self.sites.items() if key not in self.known_sites
        )
        outcome.groups = sorted(self.groups.values(), key=lambda group: group.rows[0])
        asked = questions(self.survey, outcome.similar, self.known.pk_by_key)
        outcome.questions = asked[:QUESTIONS]
        outcome.notices = list(self.survey.notices)
        if len(asked) > QUESTIONS:
            outcome.notices.append(f"{len(asked) - QUESTIONS} further questions are not shown yet.")
        return outcome


def run_import(
    path: str | Path,
    *,
    owner: Organisation | None,
    answers: Answers,
    now: datetime,
    recorded_by: User | None = None,
    source: str = "",
    mend_to: TextIO | None = None,
    on_rows: Callable[[int], None] | None = None,
) -> ImportOutcome:
    """Read the file twice: once to plan, once to judge and, if somebody imports it, to write.

    Every chunk is one transaction. A run that was cut short can be repeated with the same `now`:
    what is in the register already is recognised and left alone. `on_rows` hears of each row twice.
    """
    step = (lambda: on_rows(1)) if on_rows else None
    survey = survey_file(path, answers=answers, today=now.date(), on_row=step)
    known = KnownRegister(owner, now)
    count, mend = _Count(survey, known), _mend_writer(mend_to, survey)
    writer = None
    if owner and recorded_by:
        writer = Writer(
            survey=survey,
            known=known,
            owner=owner,
            recorded_by=recorded_by,
            now=now,
            source=source or Path(path).name,
        )
    for chunk in checked_chunks(path, survey):
        with transaction.atomic() if writer else nullcontext():
            systems = known.look_up(keys_of(chunk), is_locking=bool(writer))
            verdicts = judge(chunk, survey, systems)
            if writer:
                writer.write(verdicts, systems)
        for verdict in verdicts:
            count.add(verdict)
            if mend and verdict.fate == Fate.MEND:
                mend.writerow(_mended_line(verdict, survey))
        if on_rows:
            on_rows(len(chunk))
    return count.finish()


def _mend_writer(mend_to: TextIO | None, survey: Survey) -> Any:
    if mend_to is None:
        return None
    writer = csv.writer(mend_to)
    headings = survey.headings
    writer.writerow([*headings.kept(headings.typed), PROBLEM, RIGHT])
    return writer


def _mended_line(verdict: Verdict, survey: Survey) -> list[str]:
    problems = verdict.problems
    rights = dict.fromkeys(problem.right for problem in problems)
    return [
        *survey.headings.kept(verdict.row.cells),
        "; ".join(str(problem) for problem in problems),
        " ".join(rights),
    ]
