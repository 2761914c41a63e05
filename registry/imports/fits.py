"""How well the cells of a column that no heading names would do as a column of the book."""

import re
from collections.abc import Sequence
from datetime import date

from registry.imports.cells import UnknownWord, says_something
from registry.imports.columns import unit_symbol
from registry.imports.dates import DMY, read_date
from registry.imports.problems import CellError
from registry.imports.sizes import read_size
from registry.imports.text import plain
from registry.quantities import QuantityError

ENOUGH = 3  # cells; of fewer a word may be there by chance
OF_WORDS = ("kind", "role", "material")
LENGTH = re.compile(r"[\d.,\s\u00a0\u202f]+?\s*(?P<unit>[^\W\d]{1,6}\.?)")


def share_that_fits(name: str, cells: Sequence[str]) -> float:
    """Of 0 to 1; names and tags are never told by their look."""
    if len(cells) < ENOUGH:
        return 0.0
    if name in OF_WORDS:
        return sum(says_something(name, cell) for cell in cells) / len(cells)
    fits = {"length": _is_length, "installed": _is_day, "nominal_size": _is_size}.get(name)
    return sum(map(fits, cells)) / len(cells) if fits else 0.0


def _is_length(cell: str) -> bool:
    match = LENGTH.fullmatch(plain(cell).strip())
    return match is not None and unit_symbol(match["unit"]) in ("m", "ft")


def _is_day(cell: str) -> bool:
    try:
        return bool(read_date(cell, today=date.max, order=DMY))
    except CellError:
        return False


def _is_size(cell: str) -> bool:
    try:
        return bool(read_size(cell, unit=None, chosen={}))
    except UnknownWord:  # a size with a question
        return True
    except (CellError, QuantityError):
        return False
