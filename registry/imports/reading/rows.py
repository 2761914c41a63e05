"""Rows as every kind of file gives them, and what all of them must keep to."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading.limits import MAX_CELL, MAX_COLUMNS, MAX_ROWS


@dataclass(frozen=True, slots=True)
class SheetRow:
    number: int  # as the spreadsheet numbers it, the first row being 1
    cells: list[str]
    sheet: str = ""

    @property
    def name(self) -> str:
        """How a person finds the row again."""
        return f"{self.sheet} {self.number}" if self.sheet else str(self.number)


@dataclass(frozen=True)
class Sheet:
    name: str
    rows: Callable[[], Iterator[SheetRow]]
    is_hidden: bool = False


def checked(rows: Iterable[tuple[int, list[str]]]) -> Iterator[SheetRow]:
    """Rows without empty ones and without empty cells at their end; refuses what is too large."""
    read = 0
    for number, cells in rows:
        while cells and not cells[-1].strip():
            cells.pop()
        if not cells:
            continue
        read += 1
        if read > MAX_ROWS + 1:
            raise ImportFileError(
                gettext("The file has over %(MAX_ROWS)s rows. Split it and import the parts.")
                % {"MAX_ROWS": f"{MAX_ROWS:,}"}
            )
        if len(cells) > MAX_COLUMNS:
            raise ImportFileError(
                gettext(
                    "Row %(number)s has %(count)s columns; at most %(MAX_COLUMNS)s are read. "
                    "Keep only the columns of the register."
                )
                % {"number": number, "count": len(cells), "MAX_COLUMNS": MAX_COLUMNS}
            )
        if max(map(len, cells)) > MAX_CELL:
            longest = max(map(len, cells))
            raise ImportFileError(
                gettext(
                    "Row %(number)s has a cell of %(longest)s characters, at most "
                    "%(MAX_CELL)s are read. Is a quotation mark left open?"
                )
                % {"number": number, "longest": f"{longest:,}", "MAX_CELL": f"{MAX_CELL:,}"}
            )
        yield SheetRow(number, cells)
