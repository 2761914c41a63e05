"""What the cells of a column say against its heading, before anything is read by it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from registry.imports.cells import is_empty, says_something
from registry.imports.columns import Match, in_words, unit_symbol
from registry.imports.fits import ENOUGH, OF_WORDS
from registry.imports.reading import SheetRow
from registry.imports.text import plain

if TYPE_CHECKING:
    from registry.imports.mapping import Field

HARDLY = 0.1  # of the cells of a column hold a word of its field
MOSTLY = 0.75
ROWS_PER_SYSTEM = 1.5  # at least, where a column is to name systems and not rows
ENOUGH_ROWS = 6
OF_LENGTH = ("m", "ft")


def filled(sample: Sequence[SheetRow], at: int) -> list[str]:
    return [row.cells[at] for row in sample if at < len(row.cells) and not is_empty(row.cells[at])]


def units_apart(
    fields: Sequence["Field"], matches: list[Match], sample: Sequence[SheetRow]
) -> list[Match]:
    """A column with nothing but units in its cells says the unit of the length, whatever its
    heading may name besides."""
    found = list(matches)
    for at, one in enumerate(fields):
        cells = filled(sample, one.at)
        if len(cells) < ENOUGH or one.how == "chosen":
            continue
        if all(unit_symbol(plain(cell)) in OF_LENGTH for cell in cells):
            found[at] = Match(("length_unit",))
    return found


def swap_for_words(fields: Sequence["Field"], taken: set[str], sample: Sequence[SheetRow]) -> None:
    """“Segment” names the pipe role, but holds numbers, and “Duty” holds the words of it."""
    for name in OF_WORDS:
        named = [one for one in fields if one.name == name and one.how == "known"]
        if not named or _share(name, sample, named[0].at) > HARDLY:
            continue
        free = [one for one in fields if one.how == "unknown" and one.examples]
        better = [one for one in free if _share(name, sample, one.at) >= MOSTLY]
        if len(better) == 1:
            label = in_words(name)
            named[0].name, named[0].how, named[0].may_be = "", "unknown", (name,)
            better[0].name, better[0].how = name, "taken"
            better[0].why = gettext(
                "“%(key)s” holds no word for the %(label)s, and these cells do"
            ) % {"key": named[0].key, "label": label}
            taken.add(name)


def _share(name: str, sample: Sequence[SheetRow], at: int) -> float:
    cells = filled(sample, at)
    if len(cells) < ENOUGH:
        return 0.0
    return sum(says_something(name, cell) for cell in cells) / len(cells)


def doubt_tags(fields: Sequence["Field"], taken: set[str], sample: Sequence[SheetRow]) -> None:
    """A column whose every cell is another names the rows: where a second one groups them into
    systems, which of the two holds the tag is asked."""
    named = [one for one in fields if one.name == "tag" and one.how in ("known", "taken")]
    if not named:
        return
    cells = filled(sample, named[0].at)
    if len(cells) < ENOUGH_ROWS or len(set(cells)) < len(cells):
        return
    kind = next((one.at for one in fields if one.name == "kind"), -1)
    for one in fields:
        if one.how == "unknown" and one.examples and _groups(sample, one.at, kind):
            named[0].name, named[0].how = "", "unknown"
            named[0].why = gettext(
                "each row has another, so it may name the row and not its system"
            )
            one.proposed, one.why = (
                "tag",
                gettext("its cells put several rows into one system each"),
            )
            taken.discard("tag")
            return


def _groups(sample: Sequence[SheetRow], at: int, kind: int) -> bool:
    """Short names with digits, several rows to each, and one kind of system to each."""
    cells = filled(sample, at)
    different = set(cells)
    if not 2 <= len(different) <= len(cells) / ROWS_PER_SYSTEM:
        return False
    if sum(any(sign.isdigit() for sign in cell) for cell in cells) < MOSTLY * len(cells):
        return False
    whole = [row.cells for row in sample if row.cells[at]] if kind >= 0 else []
    return len({(cells[at], cells[kind]) for cells in whole}) <= len(different)


def size_by_diameter(fields: Sequence["Field"], taken: set[str]) -> None:
    """Where no column names the nominal size, the outside diameter tells it."""
    if "nominal_size" in taken:
        return
    for one in fields:
        if one.name == "outside_diameter":
            one.name, one.how, one.unit = "nominal_size", "taken", "OD"
            one.why = gettext("no column names the nominal size, and the outside diameter tells it")
            taken.add("nominal_size")
            taken.discard("outside_diameter")
