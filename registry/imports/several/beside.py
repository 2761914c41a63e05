"""A sheet of systems beside the sheet of their pipe, joined by the tag."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import islice

from registry.imports.columns import REQUIRED, match_heading
from registry.imports.reading import Sheet
from registry.imports.text import as_typed, fold, plain

MOST = 50_000  # systems of the sheet beside; more are not joined
MOST_TEXT = 6 << 20  # characters of all their cells
LONGEST = 200  # characters of one: names and days are shorter
OF_THE_PIPE = {"tag", "length", "nominal_size", "remarks", "row_key", "length_unit"}


@dataclass(frozen=True)
class Beside:
    """What the sheet beside says of each system, as further columns of the sheet of pipe."""

    sheet: str
    by: str  # the heading of the tag in the sheet of pipe
    at: int  # where it stands there
    headings: list[str]
    units: list[str]
    cells: dict[str, list[str]]
    doubled: list[str] = field(default_factory=list)  # tags that say two things

    def of(self, tag: str) -> list[str]:
        return self.cells.get(fold(plain(tag)), [""] * len(self.headings))


def names_of(texts: Sequence[str]) -> dict[str, int]:
    """The columns that these headings name, each by one heading alone."""
    found: dict[str, int] = {}
    for at, text in enumerate(texts):
        name = match_heading(text).name
        if name and name not in found:
            found[name] = at
    return found


def read_beside(
    sheet: Sheet, *, first: int, texts: Sequence[str], units: Sequence[str],
    main: Sequence[str], tag_at: int,
) -> Beside | None:  # fmt: skip
    """None where this sheet has no tag, nothing that is missing, or too many systems."""
    own, there = names_of(texts), names_of(main)
    wanted = [at for name, at in own.items() if name not in there and name not in OF_THE_PIPE]
    if "tag" not in own or not {*own} & {*REQUIRED} - {*there, "tag"}:
        return None
    cells: dict[str, list[str]] = {}
    doubled: dict[str, str] = {}
    held = 0
    for row in sheet.rows():
        tag = row.cells[own["tag"]].strip() if own["tag"] < len(row.cells) else ""
        if row.number < first or not tag:
            continue
        said = [_cell(row.cells, at) for at in wanted]
        held += sum(map(len, said))
        key = fold(plain(tag))
        if cells.setdefault(key, said) != said:
            doubled[key] = plain(tag)
        if len(cells) > MOST or held > MOST_TEXT:
            return None
    for key in doubled:
        del cells[key]
    return Beside(
        sheet.name, main[tag_at], tag_at, [texts[at] for at in wanted],
        [units[at] for at in wanted], cells, list(islice(doubled.values(), 5)),
    )  # fmt: skip


def _cell(cells: Sequence[str], at: int) -> str:
    return as_typed(cells[at].strip())[:LONGEST] if at < len(cells) else ""


__all__ = ["Beside", "names_of", "read_beside"]
