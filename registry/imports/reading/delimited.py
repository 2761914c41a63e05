"""CSV in the encodings and dialects people have."""

import codecs
import csv
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import IO, TextIO

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading.limits import MAX_LINE, MAX_LINES
from registry.imports.reading.rows import Sheet, SheetRow, checked
from registry.translation import _

DELIMITERS = ",;\t|"
CHUNK = 1 << 20
LOOKED_AT = 60  # lines, to see which sign parts the columns
ONE_BYTE = ("cp1252", "cp850", "mac_roman")
NAMES = {"cp1252": "Windows-1252", "cp850": "DOS (850)", "mac_roman": "Macintosh"}
USUAL = "äöüßåøæéèêàçîôûáíóúñìòù"  # within words; capitals and signs are rarer
RARE = "ÄÖÜÅØÆÉÈÀÇÑëâïõãœ°²³½¼¾×–’“”„€"
SAVE_AGAIN = _("Save it as CSV (UTF-8) again.")


def delimited_sheet(path: Path) -> tuple[Sheet, list[str]]:
    """The one sheet of the file, and how it was understood where that was a guess."""
    encoding = _encoding(path)
    notices = []
    if encoding in NAMES:
        notices.append(
            gettext("The file is not Unicode; it was read as %(names)s. Check accented names.")
            % {"names": NAMES[encoding]}
        )
    with _open(path, encoding) as file:
        delimiter, is_declared = _delimiter(file)
    return Sheet("", lambda: _rows(path, encoding, delimiter, is_declared)), notices


def _open(path: Path, encoding: str) -> TextIO:
    return path.open(encoding=encoding, newline="")


def _rows(path: Path, encoding: str, delimiter: str, is_declared: bool) -> Iterator[SheetRow]:
    with _open(path, encoding) as file:
        lines = _lines(file)
        if is_declared:
            next(lines, "")
        reader = csv.reader(lines, delimiter=delimiter, strict=False)
        yield from checked(_numbered(reader, 2 if is_declared else 1))


def _numbered(reader: Iterator[list[str]], first: int) -> Iterator[tuple[int, list[str]]]:
    number = first - 1
    while True:
        number += 1
        if number > MAX_LINES:
            raise ImportFileError(
                gettext("The file has over %(MAX_LINES)s lines. Split it.")
                % {"MAX_LINES": f"{MAX_LINES:,}"}
            )
        try:
            yield number, next(reader)
        except StopIteration:
            return
        except (csv.Error, UnicodeError) as error:
            raise ImportFileError(
                gettext("The file cannot be read at row %(number)s: %(error)s. %(SAVE_AGAIN)s")
                % {"number": number, "error": error, "SAVE_AGAIN": SAVE_AGAIN}
            ) from error


def _lines(file: TextIO) -> Iterator[str]:
    """Lines, none of them longer than memory should hold, and none with what is no text."""
    while line := file.readline(MAX_LINE):
        if len(line) >= MAX_LINE:
            raise ImportFileError(
                gettext("A line of the file has over %(MAX_LINE)s characters. %(SAVE_AGAIN)s")
                % {"MAX_LINE": f"{MAX_LINE:,}", "SAVE_AGAIN": SAVE_AGAIN}
            )
        if "\x00" in line:
            raise ImportFileError(gettext("The file is not text. Save it as CSV (UTF-8) or XLSX."))
        yield line if line.isprintable() else _without_marks(line)


def _without_marks(line: str) -> str:
    return line.translate(NO_MARKS)


NO_MARKS = {code: None for code in range(32) if chr(code) not in "\t\n\r"}


def _encoding(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(4096)
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        if start[1:400:2].count(0) > len(start[1:400:2]) * 0.7:
            return "utf-16-le"
        file.seek(0)
        return "utf-8-sig" if _is_utf8(file) else _one_byte_encoding(path)


def _is_utf8(file: IO[bytes]) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        while chunk := file.read(CHUNK):
            decoder.decode(chunk)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _one_byte_encoding(path: Path) -> str:
    """The one in which the bytes above ASCII are the letters that European words have."""
    high: Counter[int] = Counter()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            high.update(byte for byte in chunk if byte > 127)

    def fitting(encoding: str) -> int:
        return sum(
            count * (4 * (letter in USUAL) + (letter in RARE))
            for byte, count in high.items()
            if (letter := bytes([byte]).decode(encoding, "replace"))
        )

    return max(ONE_BYTE, key=fitting)


def _delimiter(file: TextIO) -> tuple[str, bool]:
    """The sign that parts most lines into equally many columns; a first line “sep=;” says it."""
    try:
        lines = list(islice(_lines(file), LOOKED_AT))
    except UnicodeError as error:
        raise ImportFileError(
            gettext("The file is not text. Save it as CSV (UTF-8) or XLSX.")
        ) from error
    if lines and lines[0].lower().startswith("sep=") and len(lines[0].strip()) == 5:
        return lines[0][4], True
    return max(DELIMITERS, key=lambda sign: _regularity(lines, sign)), False


def _regularity(lines: list[str], delimiter: str) -> tuple[int, int]:
    try:
        widths = [len(row) for row in csv.reader(lines, delimiter=delimiter) if len(row) > 1]
    except csv.Error:
        return 0, 0
    if not widths:
        return 0, 0
    width, count = Counter(widths).most_common(1)[0]
    return count * min(width, 12), width
