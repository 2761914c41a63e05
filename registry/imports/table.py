"""An opened file together with what was found out about it: sheets, headings, columns, rows."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from registry.imports.answers import REPEAT, Answers
from registry.imports.body import Body
from registry.imports.layout import Layout, find_layout, head_of
from registry.imports.mapping import Mapping, map_columns
from registry.imports.reading import SECONDS, Book, SheetRow, open_book
from registry.imports.text import plain

SAMPLE = 300
OF_PLACE = ("site", "building")
OF_SYSTEM = ("tag", "kind", "hazard", "gas_supply", "rated_pressure", "design_pressure",
             "installed")  # fmt: skip
PEEKED = 9
PEEK_COLUMNS = 12


@dataclass
class Table:
    book: Book
    layout: Layout
    mapping: Mapping
    body: Body
    notices: list[str] = field(default_factory=list)
    name: str = ""  # of the file, as a person would say it

    def rows(self) -> Iterator[SheetRow]:
        return self.body.rows()

    def peek(self) -> list[dict[str, object]]:
        """The top of the first sheet that is read, for a person to mark the headings in."""
        sheet = self.layout.parts[0].sheet
        first = self.layout.header_row
        rows = [row for row in head_of(sheet) if row.number >= first - 4]
        return [
            {"number": row.number, "cells": [plain(cell)[:40] for cell in row.cells[:PEEK_COLUMNS]]}
            for row in rows[:PEEKED]
        ]


@contextmanager
def open_table(path: str | Path, answers: Answers, *, seconds: float = SECONDS) -> Iterator[Table]:
    """ImportFileError when the file cannot be read, or an answer does not fit it."""
    with open_book(path, seconds=seconds) as book:
        layout = find_layout(
            book, sheet=answers.sheet, header_row=answers.header_row, columns=answers.columns
        )
        sample = list(islice(Body(layout).rows(), SAMPLE))
        mapping = map_columns(layout, sample, answers)
        yield Table(book, layout, mapping, _body(layout, mapping, answers), list(book.notices))


def _body(layout: Layout, mapping: Mapping, answers: Answers) -> Body:
    place = mapping.position.get
    body = Body(
        layout, tag=place("tag", -1), length=place("length", -1), unit=place("length_unit", -1)
    )
    if answers.blanks_above == REPEAT:
        body.places = tuple(mapping.position[n] for n in OF_PLACE if n in mapping.position)
        body.system = tuple(mapping.position[n] for n in OF_SYSTEM if n in mapping.position)
    return body
