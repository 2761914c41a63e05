"""Second reading of a file: what becomes of each row, a chunk at a time."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice

from registry.imports.answers import ADD
from registry.imports.check import Checked
from registry.imports.known import Key, KnownSystem, disagreements, resembles
from registry.imports.parsed import ParsedRow
from registry.imports.problems import Problem
from registry.imports.reading import SheetRow
from registry.imports.survey import Survey

CHUNK = 1000


class Fate(StrEnum):
    NEW = "new"
    KNOWN = "known"  # the register has exactly this run
    TO_FIX = "to_fix"
    LEFT_OUT = "left_out"  # a person said so


@dataclass(slots=True)
class Verdict:
    row: SheetRow
    fate: Fate
    parsed: ParsedRow | None
    problems: list[Problem]
    is_similar: bool = False
    place: tuple[str, str] | None = None  # site and tag of a row to fix


def checked_chunks(survey: Survey) -> Iterator[list[Checked]]:
    checker = survey.checker.anew()
    rows = survey.table.rows()
    while chunk := list(islice(rows, CHUNK)):
        yield [checker.check(row) for row in chunk]


def keys_of(chunk: list[Checked]) -> set[Key]:
    return {key for checked in chunk if (key := key_of(checked.place))}


def key_of(place: tuple[str, str] | None) -> Key | None:
    return (place[0].casefold(), place[1].casefold()) if place else None


def judge(chunk: list[Checked], survey: Survey, systems: dict[Key, KnownSystem]) -> list[Verdict]:
    """`systems` are those of the chunk's rows that the register holds."""
    return [_verdict(checked, survey, systems) for checked in chunk]


def _verdict(checked: Checked, survey: Survey, systems: dict[Key, KnownSystem]) -> Verdict:
    row, parsed, place = checked.row, checked.parsed, checked.place
    if checked.left_out:
        return Verdict(row, Fate.LEFT_OUT, None, [])
    if parsed is None:
        return Verdict(row, Fate.TO_FIX, None, checked.problems, False, place)
    known = systems.get(parsed.key)
    problems = survey.problems_of(parsed, row)
    if known and not problems:
        problems = disagreements(parsed, row, known, survey)
    if problems:
        return Verdict(row, Fate.TO_FIX, parsed, problems, False, place)
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
    problem = resembles(parsed, known)
    return Verdict(row, Fate.TO_FIX, parsed, [problem], True, (parsed.site, parsed.tag))
