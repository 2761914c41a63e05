"""Where the table of a register begins, on which sheets, and what its columns are called."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from django.utils.translation import gettext

from registry.imports.columns import REQUIRED, is_unit_line, match_heading
from registry.imports.problems import ImportFileError
from registry.imports.reading import Book, Sheet, SheetRow
from registry.imports.several.beside import Beside, names_of, read_beside
from registry.imports.several.cobie import handover_sheet
from registry.imports.text import fold, plain

LOOKED_AT = 60  # rows at the top of a sheet among which the headings are sought
KNOWN_ENOUGH = 3  # headings that must be known for a row to be taken for the headings
SHEET_NAME, LINE_ABOVE = "(name of the sheet)", "(line above the rows)"
TAG_ABOVE = "(system in the line above the rows)"
MADE_UP = (SHEET_NAME, LINE_ABOVE, TAG_ABOVE)  # columns that stand in no cell of their own


@dataclass(frozen=True)
class Headings:
    """The line or the two lines that name the columns of one sheet."""

    row: int
    lines: int
    texts: list[str]
    units: list[str]  # of a line of units below, else empty
    known: int = 0

    @property
    def is_doubtful(self) -> bool:
        """A line of units below is plain to see; two lines of names may be a title and names."""
        return self.lines > 1 and not any(self.units)

    @property
    def shape(self) -> tuple[str, ...]:
        return tuple(fold(text) for text in self.texts)


@dataclass
class Part:
    """One sheet of the table; `order` brings its cells into the order of the first sheet."""

    sheet: Sheet
    headings: Headings
    order: list[int] | None = None


@dataclass
class Layout:
    parts: list[Part]
    headings: list[str]
    units: list[str]
    titles: list[str] = field(default_factory=list)  # what stands above the headings
    others: list[tuple[str, int]] = field(default_factory=list)  # sheets left aside, known headings
    beside: Beside | None = None  # the sheet of the systems, joined by their tags

    @property
    def header_row(self) -> int:
        return self.parts[0].headings.row

    @property
    def sheet_names(self) -> list[str]:
        return [part.sheet.name for part in self.parts]


def find_layout(
    book: Book,
    *,
    sheet: str | None,
    header_row: int | None,
    columns: Mapping[str, str] | None = None,
) -> Layout:
    """The sheet that knows most headings, and every other sheet with the same headings.

    `columns` are those that a person named: of them the tag is needed here, to join a sheet.
    """
    found = [(one, find_headings(head_of(one), header_row)) for one in _wanted(book, sheet)]
    tables = [(one, headings) for one, headings in found if headings]
    if not sheet and (handover := _handover(book, tables)):
        tables.append(handover)
    if not tables:
        raise ImportFileError(
            gettext(
                "The file holds no table. Bring a sheet with a row that names the "
                "columns and one row for each run of pipe."
            )
        )
    first, main = max(tables, key=lambda table: _worth(table[1]))
    parts = []
    for one, headings in tables:
        if one is first or sheet is None or sheet == "*":
            order = _order(headings, main)
            if one is first or order is not None:
                parts.append(Part(one, headings, None if one is first else order))
    parts.sort(key=lambda part: book.sheets.index(part.sheet) if part.sheet in book.sheets else 0)
    beside = _beside(book, first, main, parts, columns or {})
    used = {part.sheet.name for part in parts} | ({beside.sheet} if beside else set())
    others = [
        (one.name, headings.known if headings else 0)
        for one, headings in found
        if one.name not in used and parts[0].sheet in book.sheets
    ]
    own, units = (beside.headings, beside.units) if beside else ([], [])
    texts = [*main.texts, *own, *MADE_UP]
    units = [*main.units, *units, *("" for _ in MADE_UP)]
    return Layout(parts, texts, units, _titles(parts), others, beside)


def _worth(headings: Headings) -> int:
    """A row of a register is a run of pipe, and has a length."""
    names = {name for text in headings.texts for name in match_heading(text).columns[:1]}
    return headings.known + 3 * ("length" in names)


def _handover(
    book: Book, tables: Sequence[tuple[Sheet, Headings]]
) -> tuple[Sheet, Headings] | None:
    """Handover sheets put together, unless another sheet is the register as much as they are."""
    one = handover_sheet(book)
    headings = find_headings(head_of(one), 1) if one else None
    if one is None or headings is None:
        return None
    best = max((_worth(other) for _, other in tables), default=0)
    return (one, headings) if _worth(headings) > best else None


def _beside(
    book: Book, first: Sheet, main: Headings, parts: Sequence[Part], columns: Mapping[str, str]
) -> Beside | None:
    """The sheet that says most of the systems that the sheet of pipe leaves open."""
    named = names_of(main.texts)
    chosen = [fold(heading) for heading, name in columns.items() if name == "tag"]
    at = main.shape.index(chosen[0]) if chosen and chosen[0] in main.shape else named.get("tag")
    if at is None or "length" not in named or first not in book.sheets:
        return None
    found = []
    for one in book.sheets:
        if all(one is not part.sheet for part in parts):
            headings = find_headings(head_of(one), None)
            if headings and headings.known >= KNOWN_ENOUGH:
                found.append(
                    read_beside(
                        one, first=headings.row + headings.lines, texts=headings.texts,
                        units=headings.units, main=main.texts, tag_at=at,
                    )
                )  # fmt: skip
    whole = [one for one in found if one is not None]
    return max(whole, key=lambda one: len(one.headings), default=None)


def _titles(parts: Sequence[Part]) -> list[str]:
    """What stands above the headings, on each sheet alike; a label is joined to what it labels."""
    above = [
        [text for row in head_of(part.sheet) if row.number < part.headings.row
         for text in _labelled(texts_of(row))]
        for part in parts
    ]  # fmt: skip
    return [text for text in above[0] if all(text in other for other in above[1:])]


def _labelled(texts: Sequence[str]) -> list[str]:
    """“Site:” and “North Quay” in the cell beside it say one thing."""
    joined: list[str] = []
    for text in texts:
        if joined and joined[-1].endswith(":"):
            joined[-1] = f"{joined[-1]} {text}"
        else:
            joined.append(text)
    return joined


def _wanted(book: Book, sheet: str | None) -> list[Sheet]:
    if not sheet or sheet == "*":
        return book.sheets
    chosen = book.sheet(sheet)
    if chosen is None:
        names = ", ".join(f"“{one.name}”" for one in book.sheets)
        raise ImportFileError(
            gettext("No sheet is called “%(sheet)s”. The file has %(names)s.")
            % {"sheet": sheet, "names": names}
        )
    return [chosen]


def head_of(sheet: Sheet) -> list[SheetRow]:
    return list(islice(sheet.rows(), LOOKED_AT))


def texts_of(row: SheetRow) -> list[str]:
    return list(dict.fromkeys(plain(cell).strip() for cell in row.cells if plain(cell).strip()))


def _order(headings: Headings, main: Headings) -> list[int] | None:
    """Where each heading of the main sheet stands here; None when this is another table."""
    if headings.shape == main.shape:
        return list(range(len(main.texts)))
    places: dict[str, list[int]] = {}
    for at, text in enumerate(headings.shape):
        places.setdefault(text, []).append(at)
    named = [(text, match_heading(typed).columns)
             for text, typed in zip(main.shape, main.texts, strict=True)]  # fmt: skip
    known = {text for text, columns in named if columns}
    needed = {text for text, columns in named if set(columns) & set(REQUIRED)}
    shared = known & places.keys()
    if not needed <= shared or len(shared) < max(KNOWN_ENOUGH, len(known) / 2):
        return None
    return [places[text].pop(0) if places.get(text) else -1 for text in main.shape]


def find_headings(rows: Sequence[SheetRow], header_row: int | None) -> Headings | None:
    """The row, or the two rows, that name most columns; the answer of a person goes before."""
    candidates = list(_candidates(rows, header_row))
    if not candidates:
        return None
    best = max(candidates, key=lambda one: (one.known - 0.5 * one.is_doubtful, -one.row))
    if header_row is None and best.known < KNOWN_ENOUGH:
        return _widest(candidates)
    return best


def _widest(candidates: Sequence[Headings]) -> Headings | None:
    """Nothing is known: the first row that is about as wide as the table, with columns parted."""
    single = [one for one in candidates if one.lines == 1]
    widths = Counter(sum(map(bool, one.texts)) for one in single)
    usual = max(widths, key=lambda width: (widths[width] * min(width, 8), width))
    wide = [one for one in single if sum(map(bool, one.texts)) >= max(2, usual - 1)]
    return wide[0] if wide and usual >= 2 else None


def _candidates(rows: Sequence[SheetRow], header_row: int | None) -> Iterator[Headings]:
    for at, row in enumerate(rows):
        if header_row is not None and row.number != header_row:
            continue
        below = rows[at + 1] if at + 1 < len(rows) else None
        yield _one_line(row, below)
        if below and header_row is None and _may_name_columns(below):
            yield _two_lines(row, below)


def _may_name_columns(row: SheetRow) -> bool:
    """Rows of pipe hold numbers, and lines of headings hardly any."""
    with_digits = [cell for cell in row.cells if any(sign.isdigit() for sign in cell)]
    return len(with_digits) < 2 and not is_unit_line(row.cells)


def _one_line(row: SheetRow, below: SheetRow | None) -> Headings:
    texts = [_clean(cell) for cell in row.cells]
    units = [""] * len(texts)
    lines = 1
    if below and is_unit_line(own := _without_repeats(row, below)):
        lines = 2
        units = [_clean(cell) for cell in _padded(own, len(texts))][: len(texts)]
    return Headings(row.number, lines, texts, units, _known(texts))


def _without_repeats(row: SheetRow, below: SheetRow) -> list[str]:
    """A heading merged over both lines stands in both of them, and is no unit."""
    above = _padded(row.cells, len(below.cells))
    return ["" if own == top else own for own, top in zip(below.cells, above, strict=False)]


def _two_lines(row: SheetRow, below: SheetRow) -> Headings:
    width = max(len(row.cells), len(below.cells))
    upper = [_clean(cell) for cell in _padded(row.cells, width)]
    lower = [_clean(cell) for cell in _padded(below.cells, width)]
    pairs = zip(upper, lower, _groups(upper), strict=True)
    texts = [_joined(top, bottom, group) for top, bottom, group in pairs]
    return Headings(row.number, 2, texts, [""] * width, _known(texts))


def _groups(upper: Sequence[str]) -> list[str]:
    """A text above several columns that stands over the first alone goes for those after it."""
    group, groups = "", []
    for text in upper:
        group = text or group
        groups.append(group)
    return groups


def _joined(top: str, bottom: str, group: str) -> str:
    """“Pipe” above “size” is “Pipe size”; of two languages, the one that is known."""
    if not top and not bottom:
        return ""
    whole = f"{group} {bottom}".strip() if bottom and group != bottom else bottom or top
    for text in (f"{top} {bottom}".strip() if top != bottom else top, whole, bottom, top):
        if text and match_heading(text).columns:
            return text
    return whole


def _known(texts: Sequence[str]) -> int:
    """How many columns these texts name, those that no row can do without twice."""
    names = {name for text in texts if len(text) < 60 for name in match_heading(text).columns[:1]}
    return len(names) + len(names & set(REQUIRED))


def _clean(cell: str) -> str:
    return " ".join(plain(cell).split())


def _padded(cells: Sequence[str], width: int) -> list[str]:
    return [*cells, *[""] * (width - len(cells))]
