"""The rows below the headings: ditto marks filled, totals and lines of text passed over."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from registry.imports.cells import tag_in_line
from registry.imports.layout import MADE_UP, Layout, Part
from registry.imports.reading import SheetRow
from registry.imports.text import MARKS, NUMBER, as_typed, fold, plain
from registry.imports.vocabulary import is_mark, mark_words

EXAMPLES = 5
BARE = re.compile(r"[\d.,'’\s]*\d")
LONGEST_DITTO = 18  # characters
NARROW = 4  # columns that a table needs for a row with one cell in it to be no row of it


@dataclass
class Passed:
    """Rows that are no pipe: how many of each sort, and the first of them as typed."""

    counts: Counter[str] = field(default_factory=Counter)
    examples: dict[str, list[str]] = field(default_factory=dict)
    dittos: int = 0
    repeated: int = 0

    def add(self, sort: str, row: SheetRow, text: str) -> None:
        self.counts[sort] += 1
        shown = self.examples.setdefault(sort, [])
        if len(shown) < EXAMPLES:
            shown.append(f"row {row.name} “{text[:60]}”")


@dataclass
class Body:
    """The rows of a layout, each with the name of its sheet and the line above it as cells."""

    layout: Layout
    places: tuple[int, ...] = ()  # columns of the place: an empty cell repeats the one above
    system: tuple[int, ...] = ()  # columns of the system: so do these where the tag is empty too
    tag: int = -1
    length: int = -1
    unit: int = -1  # a column that says the unit of the length beside it
    passed: Passed = field(default_factory=Passed)

    def rows(self) -> Iterator[SheetRow]:
        self.passed = Passed()
        for part in self.layout.parts:
            yield from self._part(part)

    def _part(self, part: Part) -> Iterator[SheetRow]:
        beside = self.layout.beside
        width = len(self.layout.headings) - len(MADE_UP) - (len(beside.headings) if beside else 0)
        headings = part.headings
        first = headings.row + headings.lines
        name = part.sheet.name if len(self.layout.parts) > 1 else ""
        above: list[str] = []
        line = ""
        for row in part.sheet.rows():
            if row.number < first:
                line = _only_text(row.cells) or line if row.number < headings.row else line
                continue
            cells = [
                as_typed(cell.strip()) if cell[:1] not in MARKS else cell for cell in row.cells
            ]
            if part.order:
                cells = [cells[at] if 0 <= at < len(cells) else "" for at in part.order]
            cells = [*cells[:width], *[""] * (width - len(cells))]
            numbered = SheetRow(row.number, cells, name)
            text = self._single_text(cells, width)
            if text and not is_total(text):
                line = text
                self.passed.add("line", numbered, text)
            elif sort := self._sort(cells, headings.texts):
                self.passed.add(sort, numbered, next(filter(None, map(plain, cells)), ""))
            else:
                self._fill(cells, above)
                above = cells
                self._say_unit(cells)
                own = beside.of(cells[beside.at]) if beside else ()
                made_up = (part.sheet.name, line, tag_in_line(line) if line else "")
                yield SheetRow(row.number, [*cells, *own, *made_up], name)

    def _say_unit(self, cells: list[str]) -> None:
        if self.unit < 0 or self.length < 0 or not cells[self.unit]:
            return
        if BARE.fullmatch(plain(cells[self.length])):
            cells[self.length] = f"{cells[self.length]} {plain(cells[self.unit])}"

    def _single_text(self, cells: Sequence[str], width: int) -> str:
        return _only_text(cells) if width >= NARROW else ""

    def _sort(self, cells: Sequence[str], headings: Sequence[str]) -> str:
        if not any(cells):
            return "line"
        if self._repeats(cells, headings):
            return "heading"
        if self._is_sparse(cells) and any(
            is_total(plain(cell)) for cell in cells if cell and cell[:1] != NUMBER
        ):
            return "total"
        return ""

    def _repeats(self, cells: Sequence[str], headings: Sequence[str]) -> bool:
        """Headings once more, as printed lists have them on each page."""
        pairs = zip(cells, headings, strict=False)
        return all(not cell or plain(cell).casefold() == text.casefold() for cell, text in pairs)

    def _is_sparse(self, cells: Sequence[str]) -> bool:
        if sum(map(bool, cells)) > max(2, len(cells) // 2):
            return False
        has_tag = 0 <= self.tag < len(cells) and cells[self.tag]
        first = next((plain(cell) for cell in cells if cell), "")
        return not has_tag or is_total(cells[self.tag]) or is_mark("total", first)

    def _fill(self, cells: list[str], above: Sequence[str]) -> None:
        if not above:
            return
        goes_on = 0 <= self.tag < len(cells) and not cells[self.tag]
        for at, cell in enumerate(cells):
            if not cell:
                if above[at] and (at in self.places or (goes_on and at in self.system)):
                    cells[at] = above[at]
                    self.passed.repeated += 1
            elif len(cell) <= LONGEST_DITTO and is_ditto(cell):
                cells[at] = above[at]
                self.passed.dittos += 1


def _only_text(cells: Sequence[str]) -> str:
    """The text of a row that holds nothing else; merged cells repeat it."""
    filled = {cell for cell in cells if cell}
    return plain(filled.pop()) if len(filled) == 1 else ""


DITTOS: dict[str, bool] = {}


def is_ditto(cell: str) -> bool:
    found = DITTOS.get(cell)
    if found is None:
        found = is_mark("ditto", plain(cell))
        if len(DITTOS) < 50_000:
            DITTOS[cell] = found
    return found


@lru_cache(maxsize=8192)
def is_total(text: str) -> bool:
    if len(text) > 60:
        return False
    folded = fold(text)
    return folded in mark_words("total") or any(
        folded.startswith(word + " ") or folded.endswith(" " + word)
        for word in mark_words("total")
        if len(word) > 2
    )
