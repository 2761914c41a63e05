"""The words of registers in ten languages, from `data/`: headings, values, marks, months, units.

Written from memory of drawings, standards and registers; a native speaker should pass over each
list. What has no code in the book, or two meanings, is asked (`asks.csv`) and never guessed.
"""

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

from registry.imports.text import fold, spellings

FIELDS = ("kind", "role", "material", "joint", "schedule", "hazard", "gas_supply")
LEAVE_OUT = "leave_out"  # what an answer says of rows that are no pipe of the book
ASK = "ask "
OWN = {"other_outside_diameter": "outside_diameter"}  # other columns are named and not held


@dataclass(frozen=True)
class Ask:
    """Why a word needs a person, and what that person can say."""

    why: str
    options: tuple[str, ...]
    proposed: str


@dataclass
class Meaning:
    """What a word of a field means, by language where languages differ."""

    codes: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    ranks: dict[str, int] = field(default_factory=dict)  # how plainly it says it; 0 most plainly

    def in_languages(self, languages: frozenset[str]) -> set[str]:
        """The meanings left over in a file of these languages; all of them when none fits."""
        own = {code for code, spoken in self.codes.items() if spoken & (languages | {"any"})}
        return own or set(self.codes)


def _rows(name: str) -> Iterator[dict[str, str]]:
    text = files("registry.imports").joinpath(f"data/{name}.csv").read_text("utf-8")
    yield from csv.DictReader(text.splitlines())


def _split(words: str) -> list[str]:
    return words.split(" | ")


@cache
def headings() -> dict[str, Meaning]:
    """Folded heading -> the columns it may name."""
    table: dict[str, Meaning] = defaultdict(Meaning)
    for row in _rows("headings"):
        column = OWN.get(row["column"], row["column"])
        for rank, word in enumerate(_split(row["words"])):
            for spelling in spellings(word):
                table[spelling].codes[column].add(row["language"])
                table[spelling].ranks[column] = min(rank, table[spelling].ranks.get(column, rank))
    return dict(table)


@cache
def words(name: str) -> dict[str, Meaning]:
    """Folded word of a field -> what it may mean."""
    table: dict[str, Meaning] = defaultdict(Meaning)
    for row in _rows("words"):
        if row["field"] == name:
            for word in _split(row["words"]):
                for spelling in spellings(word):
                    table[spelling].codes[row["code"]].add(row["language"])
    return dict(table)


def any_order(folded: str) -> tuple[str, ...]:
    return tuple(sorted(folded.split(" ")))


@cache
def in_any_order(name: str) -> dict[tuple[str, ...], Meaning]:
    """“Staal zwart” is “zwart staal”: words of several parts, where all orders mean the same."""
    table: dict[tuple[str, ...], Meaning] = {}
    doubted = set()
    for folded, meaning in words(name).items():
        key = any_order(folded)
        if len(key) < 2 or folded in asks(name):
            continue
        if table.setdefault(key, meaning).codes.keys() != meaning.codes.keys():
            doubted.add(key)
    return {key: meaning for key, meaning in table.items() if key not in doubted}


@cache
def asks(name: str) -> dict[str, Ask]:
    """By code (“ask main”) or by folded word (“cm”)."""
    return {
        row["code"]: Ask(row["why"], tuple(row["options"].split()), row["proposed"])
        for row in _rows("asks")
        if row["field"] == name
    }


@cache
def _marks() -> dict[str, dict[str, set[str]]]:
    table: dict[str, dict[str, set[str]]] = defaultdict(lambda: {"raw": set(), "folded": set()})
    for row in _rows("marks"):
        for word in _split(row["words"]):
            table[row["mark"]]["raw"].add(word.casefold())
            table[row["mark"]]["folded"] |= spellings(word) - {""}
    return dict(table)


def is_mark(name: str, text: str) -> bool:
    """Whether a whole cell is a mark such as “ditto”, “unknown” or “total”."""
    mark = _marks()[name]
    return text.casefold() in mark["raw"] or fold(text) in mark["folded"]


def mark_words(name: str) -> set[str]:
    return _marks()[name]["folded"]


@cache
def numbered(prefix: str) -> dict[str, str]:
    """Folded word -> what follows the prefix: months, quarters, halves, seasons, units."""
    return {
        word: name.removeprefix(prefix + " ")
        for name, mark in _marks().items()
        if name.startswith(prefix + " ")
        for word in mark["folded"] | {raw for raw in mark["raw"] if not fold(raw)}
    }


@dataclass(frozen=True)
class Series:
    """A wall of European pipe that goes by the name of its series."""

    outside_diameter_mm: float
    wall_mm: float
    source: str


@cache
def european_pipe() -> dict[str, dict[str, Series]]:
    table: dict[str, dict[str, Series]] = defaultdict(dict)
    for row in _rows("european_pipe"):
        table[row["series"]][row["nominal_size"]] = Series(
            float(row["outside_diameter_mm"]), float(row["wall_mm"]), row["source"]
        )
    return dict(table)


@cache
def outside_diameters() -> dict[str, tuple[str, float | None]]:
    """A diameter or a pair of diameters as typed -> nominal size, outside diameter in mm."""
    return {
        row["typed"]: (row["nominal_size"], float(row["outside_diameter_mm"] or 0) or None)
        for row in _rows("outside_diameters")
    }
