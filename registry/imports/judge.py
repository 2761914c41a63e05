"""Second reading of a file: what becomes of each row, a chunk at a time."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice
from pathlib import Path

from registry.imports.answers import ADD
from registry.imports.check import ParsedRow, RowChecker
from registry.imports.known import Key, KnownSystem, disagreements, resembles
from registry.imports.problems import Problem
from registry.imports.reader import SheetRow, open_table
from registry.imports.survey import Survey

CHUNK = 1000
Checked = tuple[SheetRow, ParsedRow | None, list[Problem]]


class Fate(StrEnum):
    NEW = "new"
    KNOWN = "known"  # the register has exactly this run
    MEND = "mend"


@dataclass(slots=True)
class Verdict:
    row: SheetRow
    fate: Fate
    parsed: ParsedRow | None
    problems: list[Problem]
    is_similar: bool = False


def checked_chunks(path: str | Path, survey: Survey) -> Iterator[list[Checked]]:
    checker = RowChecker(survey.headings, survey.answers, survey.today)
    with open_table(path) as table:
        while chunk := list(islice(table.rows, CHUNK)):
            yield [(row, *checker.check(row)) for row in chunk]


def keys_of(chunk: list[Checked]) -> set[Key]:
    return {parsed.key for _, parsed, _ in chunk if parsed}


def judge(chunk: list[Checked], survey: Survey, systems: dict[Key, KnownSystem]) -> list[Verdict]:
    """`systems` are those of the chunk's rows that the register holds."""
    return [_verdict(*one, survey, systems) for one in chunk]


def _verdict(
    row: SheetRow,
    parsed: ParsedRow | None,
    problems: list[Problem],
    survey: Survey,
    systems: dict[Key, KnownSystem],
) -> Verdict:
    if parsed is None:
        return Verdict(row, Fate.MEND, None, problems)
    known = systems.get(parsed.key)
    problems = survey.problems_of(parsed, row)
    if known and not problems:
        problems = disagreements(parsed, row, known, survey)
    if problems:
        return Verdict(row, Fate.MEND, parsed, problems)
    return (
        _against_runs(row, parsed, known, survey) if known else Verdict(row, Fate.NEW, parsed, [])
    )


def _against_runs(row: SheetRow, parsed: ParsedRow, known: KnownSystem, survey: Survey) -> Verdict:
    if parsed.run in known.runs:
        return Verdict(row, Fate.KNOWN, parsed, [])
    if parsed.run.look not in known.looks:
        return Verdict(row, Fate.NEW, parsed, [])
    if survey.answers.similar == ADD:
        return Verdict(row, Fate.NEW, parsed, [], is_similar=True)
    return Verdict(row, Fate.MEND, parsed, [resembles(parsed, known)], is_similar=True)
