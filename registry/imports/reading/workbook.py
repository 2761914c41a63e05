"""XLSX unpacked once into plain files of rows, a stream from end to end.

The usual libraries hold a workbook's shared texts, and some whole sheets, in memory, and believe
what it says of its own size. Here nothing is held but what limits.py allows.
"""

import csv
import posixpath
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading.formats import GENERAL, NumberFormat, number_format
from registry.imports.reading.limits import (
    MAX_MERGED,
    MAX_SHARED_TEXT,
    MAX_SHARED_TEXTS,
    MAX_SHEETS,
    MAX_UNPACKED,
    SAVE_AS_CSV,
    Budget,
)
from registry.imports.reading.rows import Sheet, SheetRow, checked
from registry.imports.reading.sheet_rows import Merge, SheetRows
from registry.imports.reading.xml_stream import CHUNK, DAMAGED, Enough, local, parse, shallow

MERGE = re.compile(rb'mergeCell ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')


@dataclass
class Workbook:
    zipped: zipfile.ZipFile
    budget: Budget
    is_1904: bool = False
    texts: list[str] = field(default_factory=list)
    formats: list[NumberFormat] = field(default_factory=list)

    def part(self, name: str) -> IO[bytes]:
        try:
            return self.zipped.open(name)
        except (KeyError, NotImplementedError, RuntimeError, zipfile.BadZipFile) as error:
            raise ImportFileError(DAMAGED) from error

    def has(self, name: str) -> bool:
        return name in self.zipped.NameToInfo


def workbook_sheets(path: Path, folder: Path, budget: Budget) -> list[Sheet]:
    """The sheets of a workbook, unpacked into `folder`."""
    try:
        with zipfile.ZipFile(path) as zipped:
            _check_is_workbook(zipped)
            book = Workbook(zipped, budget)
            sheets = list(_sheets(book))
            _read_shared(book)
            return [
                Sheet(name, _reader(_unpack(book, part, folder / f"{at}.csv")), is_hidden)
                for at, (name, part, is_hidden) in enumerate(sheets)
            ]
    except (zipfile.BadZipFile, EOFError, OSError, zipfile.LargeZipFile, ValueError) as error:
        if isinstance(error, ImportFileError):
            raise
        raise ImportFileError(DAMAGED) from error


def _check_is_workbook(zipped: zipfile.ZipFile) -> None:
    names = zipped.NameToInfo
    if "content.xml" in names and "xl/workbook.xml" not in names:
        raise ImportFileError(gettext("This is an OpenDocument sheet. Save it as .xlsx or .csv."))
    if "xl/workbook.bin" in names:
        raise ImportFileError(gettext("This is a binary .xlsb workbook. Save it as .xlsx or .csv."))
    if "xl/workbook.xml" not in names:
        raise ImportFileError(
            gettext("The workbook cannot be read. Save it as XLSX again, or as CSV (UTF-8).")
        )
    read = [part.file_size for name, part in names.items() if _is_read(name)]
    if sum(read) > MAX_UNPACKED:
        raise ImportFileError(
            (
                gettext("The workbook unpacks to %(value)s MB, which is more than is read. ")
                % {"value": f"{sum(read) / 1000000.0:,.1f}"}
            )
            + SAVE_AS_CSV
        )


def _is_read(name: str) -> bool:
    return name.startswith("xl/") and name.endswith(".xml")


def _sheets(book: Workbook) -> Iterator[tuple[str, str, bool]]:
    """Name, part and whether it is hidden, in the order of the tabs."""
    found: list[tuple[str, str, bool]] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if local(name) == "workbookPr":
            book.is_1904 = attributes.get("date1904", "0") in ("1", "true")
        if local(name) == "sheet":
            key = next((v for k, v in attributes.items() if local(k) == "id"), "")
            is_hidden = attributes.get("state", "visible") != "visible"
            found.append((attributes.get("name", "")[:100], key, is_hidden))
            if len(found) > MAX_SHEETS:
                raise ImportFileError(
                    gettext("The workbook has over %(MAX_SHEETS)s sheets. %(SAVE_AS_CSV)s")
                    % {"MAX_SHEETS": MAX_SHEETS, "SAVE_AS_CSV": SAVE_AS_CSV}
                )

    with book.part("xl/workbook.xml") as stream:
        _parse(book, stream, start)
    targets = _targets(book)
    for name, key, is_hidden in found:
        part = targets.get(key, "")
        if "worksheets/" in part and book.has(part):
            yield name, part, is_hidden


def _targets(book: Workbook) -> dict[str, str]:
    targets: dict[str, str] = {}

    def start(name: str, attributes: dict[str, str]) -> None:
        if local(name) == "Relationship":
            target = attributes.get("Target", "")
            full = target.lstrip("/") if target.startswith("/") else posixpath.join("xl", target)
            targets[attributes.get("Id", "")] = posixpath.normpath(full)

    with book.part("xl/_rels/workbook.xml.rels") as stream:
        _parse(book, stream, start)
    return targets


def _read_shared(book: Workbook) -> None:
    if book.has("xl/styles.xml"):
        with book.part("xl/styles.xml") as stream:
            _read_formats(book, stream)
    if book.has("xl/sharedStrings.xml"):
        with book.part("xl/sharedStrings.xml") as stream:
            _read_texts(book, stream)


def _read_formats(book: Workbook, stream: IO[bytes]) -> None:
    codes: dict[int, str] = {}
    is_cell_format = False

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal is_cell_format
        book.budget.spend_elements(1)
        if local(name) == "numFmt":
            codes[int(attributes["numFmtId"])] = attributes.get("formatCode", "")[:200]
        elif local(name) == "cellXfs":
            is_cell_format = True
        elif local(name) == "xf" and is_cell_format:
            number = int(attributes.get("numFmtId", "0"))
            book.formats.append(number_format(codes.get(number, ""), number))

    def end(name: str) -> None:
        if local(name) == "cellXfs":
            raise Enough

    _parse(book, stream, start, end)


def _read_texts(book: Workbook, stream: IO[bytes]) -> None:
    pieces: list[str] = []
    length = 0
    skipped = 0  # inside reading aids for East Asian text
    is_text = False

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal is_text, skipped
        name = local(name)
        book.budget.spend_elements(1)
        skipped += name == "rPh"
        is_text = name == "t" and not skipped

    def text(piece: str) -> None:
        nonlocal length
        if is_text:
            pieces.append(piece)
            length += len(piece)
            if length > MAX_SHARED_TEXT:
                raise ImportFileError(
                    gettext("The workbook holds more text than is read. ") + SAVE_AS_CSV
                )

    def end(name: str) -> None:
        nonlocal is_text, skipped
        name = local(name)
        is_text = False
        skipped -= name == "rPh"
        if name == "si":
            book.texts.append("".join(pieces))
            pieces.clear()
            if len(book.texts) > MAX_SHARED_TEXTS:
                raise ImportFileError(
                    gettext("The workbook holds more texts than are read. ") + SAVE_AS_CSV
                )

    _parse(book, stream, start, end, text)


def _parse(
    book: Workbook, stream: IO[bytes], start: Any, end: Any = None, text: Any = None
) -> None:
    start, end = shallow(start, end or (lambda name: None))
    parse(stream, book.budget, start=start, end=end, text=text)


def _unpack(book: Workbook, part: str, to: Path) -> Path:
    """One sheet as CSV lines, each with the number of its row first."""
    merges = _merges(book, part)
    with to.open("w", encoding="utf-8", newline="") as file, book.part(part) as stream:
        write = csv.writer(file, lineterminator="\n").writerow
        rows = SheetRows(
            texts=book.texts, formats=book.formats or [GENERAL], is_1904=book.is_1904,
            budget=book.budget, merges=merges, write=lambda number, row: write([number, *row]),
        )  # fmt: skip
        parse(stream, book.budget, start=rows.start, end=rows.end, text=rows.text)
        rows.finish()
    return to


def _merges(book: Workbook, part: str) -> list[Merge]:
    """Merged cells stand at the end of a sheet, and are needed from its first row on."""
    found: list[Merge] = []
    rest = b""
    with book.part(part) as stream:
        while chunk := stream.read(16 * CHUNK):
            book.budget.spend_bytes(0)
            block = rest + chunk
            found += [Merge.of(*match.groups()) for match in MERGE.finditer(block)]
            if len(found) > MAX_MERGED:
                raise ImportFileError(
                    gettext("The sheet has more merged cells than are read. ") + SAVE_AS_CSV
                )
            rest = block[-64:] if not block.endswith(b">") else b""
    return found


def _reader(path: Path):
    def rows() -> Iterator[SheetRow]:
        with path.open(encoding="utf-8", newline="") as file:
            yield from checked((int(line[0]), line[1:]) for line in csv.reader(file))

    return rows
