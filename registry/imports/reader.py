"""Files -> rows of text, one at a time: CSV in the encodings people have, and XLSX."""

import codecs
import csv
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from typing import Any

from registry.imports.problems import ImportFileError

MAX_ROWS = 250_000
MAX_COLUMNS = 100
MAX_CELL = 2_000
MAX_UNPACKED = 400 * 1024 * 1024
MAX_BESIDE_SHEETS = 50 * 1024 * 1024  # shared texts and styles, which are held in memory
DELIMITERS = ",;\t|"
CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class SheetRow:
    number: int  # as the spreadsheet numbers it; the headings are row 1
    cells: list[str]


@dataclass
class Table:
    headings: list[str]
    rows: Iterator[SheetRow]
    notices: list[str]


@contextmanager
def open_table(path: str | Path) -> Iterator[Table]:
    """The headings and a stream of non-empty rows; ImportFileError when the file cannot be read."""
    path = Path(path)
    try:
        with path.open("rb") as file:
            start = file.read(4)
    except OSError as error:
        raise ImportFileError(f"{path.name} cannot be opened: {error.strerror}.") from error
    if not start:
        raise ImportFileError("The file is empty. The first row must name the columns.")
    if start.startswith(b"PK"):
        with _open_xlsx(path) as table:
            yield table
    elif start.startswith(b"\xd0\xcf\x11\xe0"):
        raise ImportFileError("This is an old .xls workbook. Save it as .xlsx or .csv.")
    else:
        with _open_csv(path) as table:
            yield table


def count_rows(path: str | Path, *, up_to: int) -> int:
    with open_table(path) as table:
        return sum(1 for _ in islice(table.rows, up_to))


@contextmanager
def _open_csv(path: Path) -> Iterator[Table]:
    encoding = _encoding(path)
    notices = []
    if encoding == "cp1252":
        notices.append(
            "The file is not Unicode; it was read as Windows-1252. Check accented names."
        )
    with path.open(encoding=encoding, newline="") as file:
        reader = csv.reader(file, delimiter=_delimiter(file), strict=False)
        rows = _csv_rows(reader)
        headings = next(rows, SheetRow(1, [])).cells
        yield Table(headings, rows, notices)


def _encoding(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(4)
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        file.seek(0)
        decoder = codecs.getincrementaldecoder("utf-8")()
        try:
            while chunk := file.read(CHUNK):
                decoder.decode(chunk)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8-sig"


def _delimiter(file: Any) -> str:
    """The delimiter that parts the headings most often; leaves the file at its start."""
    try:
        headings = file.readline(CHUNK)
    except UnicodeError as error:
        raise ImportFileError("The file is not text. Save it as CSV (UTF-8) or XLSX.") from error
    file.seek(0)
    return max(DELIMITERS, key=headings.count)


def _csv_rows(reader: Any) -> Iterator[SheetRow]:
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except (csv.Error, UnicodeError) as error:
            raise ImportFileError(
                f"The file cannot be read at row {number}: {error}. Save it as CSV (UTF-8) again."
            ) from error
        yield from _checked(number, cells)


def _checked(number: int, cells: list[str]) -> Iterator[SheetRow]:
    while cells and not cells[-1].strip():
        cells.pop()
    if cells and number > MAX_ROWS + 1:
        raise ImportFileError(
            f"The file has over {MAX_ROWS:,} rows. Split it and import the parts."
        )
    if any("\x00" in cell for cell in cells):
        raise ImportFileError(f"Row {number} is not text. Save the file as CSV (UTF-8) or XLSX.")
    if len(cells) > MAX_COLUMNS:
        raise ImportFileError(
            f"Row {number} has {len(cells)} columns; at most {MAX_COLUMNS} are read. "
            "Keep only the columns of the register."
        )
    if long := next((cell for cell in cells if len(cell) > MAX_CELL), None):
        raise ImportFileError(
            f"Row {number} has a cell of {len(long):,} characters, at most {MAX_CELL:,} are read. "
            "Is a quotation mark left open?"
        )
    if cells:
        yield SheetRow(number, cells)


@contextmanager
def _open_xlsx(path: Path) -> Iterator[Table]:
    from openpyxl import load_workbook

    _check_unpacked_size(path)
    try:
        book = load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
    except Exception as error:  # the library raises many kinds for a damaged or hostile file
        raise ImportFileError(
            "The workbook cannot be read. Save it as XLSX again, or as CSV (UTF-8)."
        ) from error
    notices = []
    if len(book.worksheets) > 1:
        notices.append(f"Only the first sheet, “{sheet.title}”, was read.")
    try:
        rows = _xlsx_rows(sheet)
        yield Table(next(rows, SheetRow(1, [])).cells, rows, notices)
    finally:
        book.close()


def _check_unpacked_size(path: Path) -> None:
    try:
        with zipfile.ZipFile(path) as zipped:
            parts = zipped.infolist()
    except zipfile.BadZipFile as error:
        raise ImportFileError("The workbook is damaged. Save it as XLSX again.") from error
    whole = sum(part.file_size for part in parts)
    sheets = sum(p.file_size for p in parts if p.filename.startswith("xl/worksheets/"))
    if whole > MAX_UNPACKED or whole - sheets > MAX_BESIDE_SHEETS:
        raise ImportFileError(
            f"The workbook unpacks to {whole / 1e6:,.1f} MB, which is more than is read. "
            "Save the register's sheet alone, as CSV (UTF-8)."
        )


def _xlsx_rows(sheet: Any) -> Iterator[SheetRow]:
    # The caps are one past what is allowed, so that a larger sheet is refused and not cut short.
    rows = sheet.iter_rows(max_row=MAX_ROWS + 2, max_col=MAX_COLUMNS + 1, values_only=True)
    number = 0
    while True:
        number += 1
        try:
            values = next(rows)
        except StopIteration:
            return
        except Exception as error:
            raise ImportFileError(f"The workbook cannot be read at row {number}.") from error
        yield from _checked(number, [_text(value) for value in values])


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(" ").removesuffix(" 00:00:00")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)
