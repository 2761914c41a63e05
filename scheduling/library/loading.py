"""The library's tables from their files. A wrong cell is refused with its row, not guessed at."""

import csv
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import TypeVar

from scheduling.library.types import (
    CONDITIONS,
    GROUPS,
    HOW_KNOWN,
    SEASONS,
    SYSTEM_KINDS,
    Edition,
    LibraryItem,
)
from scheduling.recurrence import Anchor, Interval, parse_interval

T = TypeVar("T")


class LibraryError(ValueError):
    """A row of the library that cannot be read; says which, and why."""


@cache
def editions() -> dict[str, Edition]:
    """Every edition by key, the newest of each standard last."""
    return {edition.key: edition for edition in _load("editions.csv", _edition)}


def titles() -> tuple[tuple[str, str], ...]:
    """Every edition by key, as a person chooses among them."""
    return tuple((one.key, one.title) for one in editions().values())


@cache
def items() -> tuple[LibraryItem, ...]:
    return tuple(_load("items.csv", item_from))


def read_rows(name: str) -> Iterator[dict[str, str]]:
    text = files("scheduling.library").joinpath("data", name).read_text("utf-8")
    return csv.DictReader(text.splitlines())


def whole_number(text: str) -> int | None:
    return int(text) if text else None


def item_from(row: Mapping[str, str]) -> LibraryItem:
    return LibraryItem(
        row=row["row"],
        key=row["key"],
        title=row["title"],
        group=_one_of(row["group"], GROUPS, "group"),
        system_kinds=tuple(
            _one_of(kind, SYSTEM_KINDS, "system_kinds") for kind in row["system_kinds"].split()
        ),
        interval=_interval(row),
        trigger=row["trigger"],
        before=parse_interval(row["before"]),
        after=parse_interval(row["after"]),
        anchor=Anchor(row["anchor"]),
        season=_one_of(row["season"], ("", *SEASONS), "season"),
        condition=_one_of(row["condition"], ("", *CONDITIONS), "condition"),
        standard=row["standard"],
        edition_from=whole_number(row["edition_from"]),
        edition_to=whole_number(row["edition_to"]),
        clause=row["clause"],
        source=row["source"],
        how_known=_one_of(row["how_known"], HOW_KNOWN, "how_known"),
        note=row["note"],
    )


def _load(name: str, make: Callable[[Mapping[str, str]], T]) -> Iterator[T]:
    for number, row in enumerate(read_rows(name), start=2):
        try:
            yield make(row)
        except (KeyError, ValueError) as error:
            raise LibraryError(
                f"{name}, row {number} ({row.get('row') or row.get('key', '')}): {error}"
            ) from error


def _edition(row: Mapping[str, str]) -> Edition:
    return Edition(
        key=row["key"],
        standard=row["standard"],
        year=int(row["year"]),
        title=row["title"],
        amends=row["amends"],
        how_known=_one_of(row["how_known"], HOW_KNOWN, "how_known"),
        note=row["note"],
    )


def _interval(row: Mapping[str, str]) -> Interval | None:
    if bool(row["interval"]) == bool(row["trigger"]):
        raise ValueError("a row has either an interval or a trigger")
    return parse_interval(row["interval"]) if row["interval"] else None


def _one_of(value: str, allowed: Collection[str], column: str) -> str:
    if value not in allowed:
        raise ValueError(f"{column} “{value}” is not one of {', '.join(allowed)}")
    return value
