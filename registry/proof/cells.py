"""Cells of a CSV that no spreadsheet program takes for a formula."""

import csv
import re
import unicodedata
from collections.abc import Iterable, Iterator

BYTE_ORDER_MARK = "\ufeff"
"""Without it spreadsheet programs misread names with accents; `utf-8-sig` reads it."""

STARTS = frozenset("=+-@|%＝＋－＠")
QUOTE = '"'
QUOTED = re.compile(r'[",\r\n]').search
BLANK = ("Cc", "Cf", "Zs", "Zl", "Zp")


def safe_cell(cell: object) -> object:
    """Text that would be taken for a formula gets an apostrophe before it. Numbers stay numbers,
    and text that begins with a tab or line feed is text that a program may cut there."""
    if not isinstance(cell, str) or cell[:1].isalnum():
        return cell
    if cell and cell[0] in ("\t", "\r", "\n") or _first(cell) in STARTS:
        return f"'{cell}"
    return cell


def _first(cell: str) -> str:
    """The first sign that is not blank or invisible: some programs pass over those."""
    return next((sign for sign in cell if unicodedata.category(sign) not in BLANK), "")


def csv_text(cell: object) -> str:
    """A cell as the csv module writes it, for lines that are put together without it."""
    text = "" if cell is None else str(cell)
    return quoted(text) if QUOTED(text) else text


def quoted(text: str) -> str:
    return f'"{text.replace(QUOTE, QUOTE * 2)}"'


class _Echo:
    """A file that hands each line straight back, so that nothing piles up in memory."""

    def write(self, text: str) -> str:
        return text


def csv_lines(columns: Iterable[str], rows: Iterable[Iterable[object]]) -> Iterator[str]:
    writer = csv.writer(_Echo())
    yield BYTE_ORDER_MARK + writer.writerow(list(columns))
    for row in rows:
        yield writer.writerow([safe_cell(cell) for cell in row])
