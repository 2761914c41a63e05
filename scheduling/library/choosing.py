"""Which rows hold for a system: by its kind, the adopted edition and what is known about it."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from scheduling.library.loading import editions, items
from scheduling.library.types import Choice, Edition, LibraryItem

Answers = Mapping[str, bool | None]


def items_for(
    system_kind: str,
    edition: Edition,
    conditions: Answers | None = None,
    *,
    library: Sequence[LibraryItem] | None = None,
) -> tuple[Choice, ...]:
    """One row for each item that holds, in the library's order.

    `conditions` answers True, False or None (not known) by key. A row whose condition is met goes
    before the plain one. What is not known is presumed where that asks for more: the safer row
    stands, and says on which open question it rests.
    """
    rows = _rows_for(system_kind, edition, items() if library is None else library)
    order = {key: place for place, key in reversed(list(enumerate(row.key for row in rows)))}
    rows.sort(key=lambda row: order[row.key])
    chosen = (
        _choose(list(versions), conditions or {}, edition)
        for _, versions in groupby(rows, key=lambda row: row.key)
    )
    return tuple(choice for choice in chosen if choice is not None)


def for_editions(
    system_kind: str,
    adopted: Iterable[Edition],
    conditions: Answers | None = None,
    *,
    library: Sequence[LibraryItem] | None = None,
) -> tuple[Choice, ...]:
    """As `items_for` over several adopted editions; asked for by two, the stricter row stands."""
    strictest: dict[str, Choice] = {}
    for edition in adopted:
        for choice in items_for(system_kind, edition, conditions, library=library):
            held = strictest.get(choice.item.key)
            if held is None or _strictness(choice.item) < _strictness(held.item):
                strictest[choice.item.key] = choice
    return tuple(strictest.values())


def questions_for(
    system_kind: str, adopted: Iterable[Edition], *, library: Sequence[LibraryItem] | None = None
) -> tuple[str, ...]:
    """The conditions on which something depends for a system of this kind, each once."""
    keys = (
        row.condition
        for edition in adopted
        for row in _rows_for(system_kind, edition, items() if library is None else library)
        if row.condition
    )
    return tuple(dict.fromkeys(keys))


def _rows_for(
    system_kind: str, edition: Edition, library: Sequence[LibraryItem]
) -> list[LibraryItem]:
    """The rows of an edition, and of the one it amends for the items it says nothing about."""
    rows = [row for row in library if system_kind in row.system_kinds and row.covers(edition)]
    if edition.amends:
        said = {row.key for row in rows}
        amended = _rows_for(system_kind, editions()[edition.amends], library)
        rows += [row for row in amended if row.key not in said]
    return rows


def _choose(
    versions: Sequence[LibraryItem], conditions: Answers, edition: Edition
) -> Choice | None:
    met = [row for row in versions if row.condition and conditions.get(row.condition) is True]
    plain = [row for row in versions if not row.condition]
    firm = min(met or plain, key=_strictness, default=None)
    open_rows = [row for row in versions if row.condition and conditions.get(row.condition) is None]
    strictest = min(open_rows, key=_strictness, default=None)
    if strictest and (firm is None or _strictness(strictest) < _strictness(firm)):
        return Choice(strictest, edition, presumed=strictest.condition)
    return Choice(firm, edition) if firm else None


def _strictness(row: LibraryItem) -> float:
    """Shorter is stricter; a row that is only done on occasion is the least strict."""
    return row.interval.mean_days if row.interval else float("inf")
