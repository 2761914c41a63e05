"""Any file of a register opened as a book of sheets."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading.delimited import delimited_sheet
from registry.imports.reading.limits import SECONDS, Budget
from registry.imports.reading.rows import Sheet
from registry.imports.reading.workbook import workbook_sheets


@dataclass
class Book:
    sheets: list[Sheet]
    notices: list[str] = field(default_factory=list)

    def sheet(self, name: str) -> Sheet | None:
        wanted = name.strip().casefold()
        return next((sheet for sheet in self.sheets if sheet.name.casefold() == wanted), None)


@contextmanager
def open_book(path: str | Path, *, seconds: float = SECONDS) -> Iterator[Book]:
    """ImportFileError when the file cannot be read; a workbook is unpacked beside it for as long
    as the book is open."""
    path = Path(path)
    try:
        with path.open("rb") as file:
            start = file.read(512)
    except OSError as error:
        raise ImportFileError(
            gettext("%(name)s cannot be opened: %(strerror)s.")
            % {"name": path.name, "strerror": error.strerror}
        ) from error
    if not start:
        raise ImportFileError(gettext("The file is empty."))
    if start.startswith(b"PK"):
        with tempfile.TemporaryDirectory(prefix="register-") as folder:
            yield _book(workbook_sheets(path, Path(folder), Budget(seconds=seconds)))
        return
    _check_is_text(start)
    sheet, notices = delimited_sheet(path)
    yield Book([sheet], notices)


def _book(sheets: list[Sheet]) -> Book:
    shown = [sheet for sheet in sheets if not sheet.is_hidden]
    hidden = [f"“{sheet.name}”" for sheet in sheets if sheet.is_hidden]
    notices = (
        [(gettext("Hidden sheets were not read: %(listed)s.") % {"listed": ", ".join(hidden)})]
        if hidden and shown
        else []
    )
    if not sheets:
        raise ImportFileError(gettext("The workbook has no sheet."))
    return Book(shown or sheets, notices)


def _check_is_text(start: bytes) -> None:
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        raise ImportFileError(gettext("This is an old .xls workbook. Save it as .xlsx or .csv."))
    if start.startswith(b"%PDF"):
        raise ImportFileError(
            gettext("This is a PDF. Bring the sheet it was printed from, or type it.")
        )
    if start.lstrip()[:5].lower() in (b"<html", b"<?xml", b"<!doc", b"<tabl"):
        raise ImportFileError(gettext("This is a web page and no table. Save it as .xlsx or .csv."))


def count_rows(path: str | Path, *, up_to: int) -> int:
    """Rows of all sheets, counted no further than asked."""
    with open_book(path) as book:
        rows = (row for sheet in book.sheets for row in sheet.rows())
        return sum(1 for _ in islice(rows, up_to))
