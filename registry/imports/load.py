"""A register file against the book: what would happen, or happens when somebody imports it."""

import csv
from collections.abc import Callable
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO

from django.db import transaction

from registry.imports.answers import Answers
from registry.imports.columns import LABELS, PROBLEM, RIGHT, ROW_KEY
from registry.imports.incomplete import RowsLeft, row_key
from registry.imports.judge import Fate, Verdict, checked_chunks, judge, keys_of
from registry.imports.known import KnownRegister
from registry.imports.layout import MADE_UP
from registry.imports.legend import with_legend
from registry.imports.outcome import Count, ImportOutcome
from registry.imports.said import file_title, with_said
from registry.imports.survey import Survey, survey_table
from registry.imports.table import Table, open_table
from registry.imports.text import harmless, plain
from registry.imports.write import Writer
from registry.models import Organisation, User
from registry.services.collecting import rare_collections

COLLECTED = 50_000  # objects made before the youngest are looked through: some rows of a chunk


def run_import(
    path: str | Path,
    *,
    owner: Organisation | None,
    answers: Answers,
    now: datetime,
    recorded_by: User | None = None,
    source: str = "",
    to_fix: TextIO | None = None,
    on_rows: Callable[[int], None] | None = None,
    on_count: Callable[[int], None] | None = None,
) -> ImportOutcome:
    """Read the file to plan, then to judge and, if somebody imports it, to write.

    Every chunk is one transaction. A run that was cut short can be repeated with the same `now`:
    what is in the register already is recognised and left alone. `on_rows` hears of each row twice.
    """
    with open_table(path, answers) as table, rare_collections(COLLECTED):
        answers, told = with_legend(answers, table.book, table.layout)
        table.notices += told
        answers, told = with_said(answers, table.layout, table.mapping)
        table.notices += told
        source = source or Path(path).name
        table.name = file_title(source)
        step = (lambda: on_rows(1)) if on_rows else None
        survey = survey_table(
            table, answers=answers, today=now.date(), on_row=step, on_count=on_count
        )
        known = KnownRegister(owner, now)
        writer = None
        if owner and recorded_by:
            writer = Writer(
                survey=survey, known=known, owner=owner, recorded_by=recorded_by, now=now,
                source=source,
            )  # fmt: skip
        return _Run(survey, known, writer, _ToFix(to_fix, table, source), source).run(on_rows)


class _Run:
    """The chunks of a surveyed file, one after the other."""

    def __init__(
        self,
        survey: Survey,
        known: KnownRegister,
        writer: Writer | None,
        to_fix: "_ToFix",
        source: str,
    ):
        self.survey, self.known, self.writer, self.to_fix = survey, known, writer, to_fix
        self.count = Count(survey, known)
        self.left = RowsLeft(survey.mapping, source)

    def run(self, on_rows: Callable[[int], None] | None) -> ImportOutcome:
        for chunk in checked_chunks(self.survey):
            with transaction.atomic() if self.writer else nullcontext():
                systems = self.known.look_up(keys_of(chunk), is_locking=bool(self.writer))
                verdicts = judge(chunk, self.survey, systems)
                if self.writer:
                    self.writer.write(verdicts, systems)
            for verdict in verdicts:
                self.count.add(verdict)
                self.left.add(verdict)
                if verdict.fate == Fate.TO_FIX:
                    self.to_fix.write(verdict)
            if on_rows:
                on_rows(len(chunk))
        if self.writer:
            self.left.store(self.known, self.writer.recorded_by, self.writer.now)
            self.writer.end(self.count.sites)
        return self.count.finish()


class _ToFix:
    """The rows that did not load, in their own columns, with what is wrong and what would be right.

    Their cells are harmless: no spreadsheet program takes one for a formula.
    """

    def __init__(self, to: TextIO | None, table: Table, source: str):
        self.mapping, self.source = table.mapping, source
        self.made_up = [one for one in table.mapping.fields if one.key in MADE_UP and one.name]
        self.writer: Any = csv.writer(to) if to is not None else None
        if self.writer:
            headings = [table.layout.headings[one.at] for one in self.mapping.real]
            added = [LABELS[one.name] for one in self.made_up]
            self._line([*headings, *added, PROBLEM, RIGHT, ROW_KEY])

    def write(self, verdict: Verdict) -> None:
        if self.writer:
            rights = dict.fromkeys(problem.right for problem in verdict.problems)
            self._line([
                *self.mapping.typed_cells(verdict.row.cells),
                *(plain(verdict.row.cells[one.at]) for one in self.made_up),
                "; ".join(str(problem) for problem in verdict.problems),
                " ".join(rights),
                self.mapping.cell(verdict.row.cells, "row_key")
                or row_key(self.source, verdict.row),
            ])  # fmt: skip

    def _line(self, cells: list[str]) -> None:
        self.writer.writerow([harmless(cell) for cell in cells])
