"""What a person answered to the questions a file raises; everything unanswered stays unguessed."""

from dataclasses import asdict, dataclass, field
from typing import Any

from registry.imports.text import fold

LEAVE, ADD = "leave", "add"
REPEAT, TO_FIX = "repeat", "fix"
TOGETHER, APART = "together", "apart"
ONLY_FACTS = ("leaks_known_since", "adopted_edition")  # of the whole file; no row waits for them
NOT_KEPT = ""  # a column of the file that is left out


@dataclass(frozen=True)
class Answers:
    sheet: str | None = None  # the name of one sheet, or * for all that look alike
    header_row: int | None = None
    columns: dict[str, str] = field(default_factory=dict)  # heading of the file -> our column
    words: dict[str, str] = field(default_factory=dict)  # word_key -> our code or spelling
    blank: dict[str, str] = field(default_factory=dict)  # our column -> what an empty cell means
    blanks_above: str | None = None  # empty names: repeat those above, or give the rows back
    same_tags: str | None = None  # of two buildings: one system, or two that need longer tags
    decimal: str | None = None  # comma or point
    date_order: str | None = None  # dmy or mdy, for dates like 3/4/2001
    length_unit: str | None = None  # for lengths without a unit
    units: dict[str, str] = field(default_factory=dict)  # for other columns without a unit
    leaks_known_since: str | None = None  # a day or a year, or “installed”
    adopted_edition: str | None = None  # of a standard, at the sites of the file that have none
    similar: str = LEAVE  # runs that resemble one already in the register: leave out or add
    choices: dict[str, str] = field(default_factory=dict)  # choice_key -> value for one system

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> "Answers":
        return cls(**{name: data[name] for name in cls.__dataclass_fields__ if name in data})

    def unit_of(self, column: str) -> str | None:
        return self.length_unit if column == "length" else self.units.get(column)


@dataclass(frozen=True)
class Question:
    """Asked on the preview page; `name` is where the answer goes, `option` says it on the
    command line."""

    name: str
    words: str
    options: tuple[tuple[str, str], ...]
    evidence: str = ""
    proposed: str = ""  # shown as a hint, never applied
    suggestion: str = ""  # the option that the hint speaks for
    rows: int = 0  # that wait for the answer
    option: str = ""
    is_typed: bool = False  # any text is an answer; the options are proposals

    @property
    def is_only_a_fact(self) -> bool:
        """Left open it keeps no row out."""
        return self.name.startswith("gas_supply:") or self.name in ONLY_FACTS

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


def choice_key(site: str, tag: str, field_name: str) -> str:
    return f"{field_name}:{site}:{tag}"


def word_key(field_name: str, typed: str) -> str:
    """One answer for a word however it is written; signs that are no word stand for themselves."""
    return f"{field_name}:{fold(typed) or typed.strip()}"
