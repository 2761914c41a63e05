"""The elements of one sheet -> rows of marked texts, with merged cells filled in."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading.formats import NumberFormat, number_text
from registry.imports.reading.limits import (
    MAX_CELL,
    MAX_COLUMNS,
    MAX_DEPTH,
    MAX_ROWS,
    Budget,
)
from registry.imports.reading.xml_stream import DAMAGED
from registry.imports.text import ERROR, without_control

FAR_COLUMN = 16_384


@dataclass(frozen=True)
class Merge:
    left: int
    top: int
    right: int
    bottom: int

    @classmethod
    def of(cls, left: bytes, top: bytes, right: bytes, bottom: bytes) -> "Merge":
        return cls(column_of(left.decode()), int(top), column_of(right.decode()), int(bottom))


def column_of(letters: str) -> int:
    """A is 0, AA is 26."""
    value = 0
    for letter in letters:
        value = value * 26 + ord(letter) - 64
    return value - 1


class SheetRows:
    """Handlers for the parser; `write` gets the number and the cells of each row that has any."""

    def __init__(
        self,
        *,
        texts: list[str],
        formats: list[NumberFormat],
        is_1904: bool,
        budget: Budget,
        merges: list[Merge],
        write: Callable[[int, list[str]], object],
    ):
        self.texts, self.formats, self.is_1904 = texts, formats, is_1904
        self.budget, self.write = budget, write
        self.begin_at: dict[int, list[Merge]] = defaultdict(list)
        for merge in merges:
            self.begin_at[merge.top].append(merge)
        self.open: list[tuple[Merge, str]] = []  # merged cells that reach below the present row
        self.number = 0
        self.written = 0
        self.cells: list[str] = []
        self.column = -1
        self.kind = ""
        self.style = 0
        self.pieces: list[str] = []
        self.length = 0
        self.is_value = False
        self.is_row = False
        self.columns: dict[str, int] = {}
        self.depth = 0
        self.next_column = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise ImportFileError(DAMAGED)
        if ":" in name:
            name = name.rpartition(":")[2]
        if name == "c":
            self._start_cell(attributes)
        elif name == "v" or name == "t":
            self.is_value = self.column >= 0
        elif name == "row":
            self._start_row(attributes)

    def text(self, piece: str) -> None:
        if self.is_value:
            self.pieces.append(piece)
            self.length += len(piece)
            if self.length > 4 * MAX_CELL:
                raise ImportFileError(
                    gettext(
                        "Row %(number)s has a cell of over %(value)s characters; at most "
                        "%(MAX_CELL)s are read."
                    )
                    % {
                        "number": self.number,
                        "value": f"{4 * MAX_CELL:,}",
                        "MAX_CELL": f"{MAX_CELL:,}",
                    }
                )

    def end(self, name: str) -> None:
        self.depth -= 1
        if ":" in name:
            name = name.rpartition(":")[2]
        if name == "v" or name == "t":
            self.is_value = False
        elif name == "c":
            self._end_cell()
        elif name == "row":
            self._end_row()
        elif name == "rPh":
            self.pieces.clear()

    def finish(self) -> None:
        if self.is_row:
            self._end_row()

    def _start_row(self, attributes: dict[str, str]) -> None:
        number = int(attributes.get("r", self.number + 1))
        self.number = max(number, self.number + 1)
        self.cells, self.column, self.is_row = [], -1, True
        self.next_column = 0
        self.budget.spend_elements(1)

    def _start_cell(self, attributes: dict[str, str]) -> None:
        reference = attributes.get("r")
        self.column = self._column(reference) if reference else self.next_column
        self.next_column = self.column + 1
        self.kind = attributes.get("t", "n")
        self.style = int(attributes.get("s", 0))
        self.pieces, self.length = [], 0
        self.budget.spend_elements(1)

    def _column(self, reference: str) -> int:
        letters = reference.rstrip("0123456789")
        column = self.columns.get(letters)
        if column is None:
            column = column_of(letters)
            if not 0 <= column < FAR_COLUMN or len(self.columns) > FAR_COLUMN:
                raise ImportFileError(
                    gettext("The sheet has a cell “%(reference)s”, where none can be.")
                    % {"reference": reference[:20]}
                )
            self.columns[letters] = column
        return column

    def _end_cell(self) -> None:
        column, self.column = self.column, -1
        if not self.pieces:
            return
        text = self._cell_text("".join(self.pieces))
        if not text:
            return
        if column > MAX_COLUMNS:
            raise ImportFileError(
                gettext(
                    "Row %(number)s has a cell in column %(value)s; at most %(MAX_COLUMNS)s "
                    "columns are read. Keep only the columns of the register."
                )
                % {"number": self.number, "value": column + 1, "MAX_COLUMNS": MAX_COLUMNS}
            )
        if len(self.cells) <= column:
            self.cells.extend([""] * (column + 1 - len(self.cells)))
        self.cells[column] = text

    def _cell_text(self, raw: str) -> str:
        kind = self.kind
        if kind == "s":
            at = int(raw)
            return without_control(self.texts[at]) if 0 <= at < len(self.texts) else ""
        if kind == "n":
            shape = self.formats[self.style] if self.style < len(self.formats) else self.formats[0]
            return number_text(raw, shape, is_1904=self.is_1904)
        if kind == "e":
            return ERROR + raw
        if kind == "b":
            return "yes" if raw.strip() == "1" else "no"
        return without_control(raw)

    def _end_row(self) -> None:
        self.is_row = False
        self._fill_merged()
        if any(self.cells):
            self.written += 1
            if self.written > MAX_ROWS + 2:
                raise ImportFileError(
                    gettext("The file has over %(MAX_ROWS)s rows. Split it and import the parts.")
                    % {"MAX_ROWS": f"{MAX_ROWS:,}"}
                )
            self.write(self.number, self.cells)

    def _fill_merged(self) -> None:
        self.open = [(merge, text) for merge, text in self.open if merge.bottom >= self.number]
        for merge in self.begin_at.pop(self.number, ()):
            text = self.cells[merge.left] if merge.left < len(self.cells) else ""
            if text and merge.left <= MAX_COLUMNS:
                self.open.append((merge, text))
        if len(self.open) > MAX_COLUMNS:  # they would lie on each other
            raise ImportFileError(DAMAGED)
        for merge, text in self.open:
            right = min(merge.right, MAX_COLUMNS - 1)
            if len(self.cells) <= right:
                self.cells.extend([""] * (right + 1 - len(self.cells)))
            for column in range(merge.left, right + 1):
                self.cells[column] = self.cells[column] or text
