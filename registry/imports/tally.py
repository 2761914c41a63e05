"""What the rows showed about the file as a whole: open questions, and how entries were read."""

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext

from registry.imports.amounts import OpenNumber
from registry.imports.answers import word_key
from registry.imports.cells import WORDS, UnknownWord
from registry.imports.dates import AmbiguousDate, Installed
from registry.imports.problems import Problem
from registry.imports.text import plain
from registry.quantities import MissingUnitError

EXAMPLES = 5
MOST_WORDS = 400


@dataclass(slots=True)
class Entry:
    """One text of a column, read once."""

    value: Any
    problem: Problem | None = None
    error: Exception | None = None
    left_out: str = ""
    count: int = 0
    first_row: str = ""


@dataclass
class Word:
    """A word that a person must settle, or how a word was read."""

    column: str
    typed: str
    count: int = 0
    row: str = ""
    code: str = ""
    error: UnknownWord | None = None
    others: list[str] = field(default_factory=list)  # words with the same question


def question_key(name: str, typed: str, error: UnknownWord) -> str:
    """One question for all words that leave the same thing open: “steel”, “ERW”, “A53”."""
    return f"{name}:{error.code}" if error.code else word_key(name, typed)


@dataclass
class Tally:
    date_orders: Counter[str] = field(default_factory=Counter)
    date_proofs: dict[str, str] = field(default_factory=dict)
    ambiguous_dates: Counter[str] = field(default_factory=Counter)
    date_notes: Counter[str] = field(default_factory=Counter)
    bare: dict[str, Counter[str]] = field(default_factory=dict)  # by column, without a unit
    open_numbers: Counter[str] = field(default_factory=Counter)
    bare_pressures: Counter[str] = field(default_factory=Counter)
    blanks: Counter[str] = field(default_factory=Counter)
    unknown: dict[str, Word] = field(default_factory=dict)
    read: dict[tuple[str, str], Word] = field(default_factory=dict)
    light_wall_rows: int = 0

    def add(self, name: str, typed: str, entry: Entry) -> None:
        typed = plain(typed)
        if isinstance(entry.value, Installed):
            self._add_date(typed, entry.value, entry)
        elif entry.error is not None:
            self._add_error(name, typed, entry)
        elif name in WORDS and typed and entry.value is not None:
            self._add_reading(name, typed, entry)

    def add_word(self, name: str, typed: str, error: UnknownWord, row: str, count: int = 1) -> None:
        key = question_key(name, typed, error)
        if key in self.unknown or len(self.unknown) < MOST_WORDS:
            word = self.unknown.setdefault(key, Word(name, typed, 0, row, "", error))
            word.count += count
            if typed not in word.others and len(word.others) < EXAMPLES:
                word.others.append(typed)

    def _add_date(self, typed: str, found: Installed, entry: Entry) -> None:
        if found.proves:
            self.date_orders[found.proves] += entry.count
            self.date_proofs.setdefault(
                found.proves,
                (
                    gettext("“%(typed)s” in row %(first_row)s")
                    % {"typed": typed, "first_row": entry.first_row}
                ),
            )
        if found.note:
            self.date_notes[found.note] += entry.count

    def _add_error(self, name: str, typed: str, entry: Entry) -> None:
        error = entry.error
        if entry.problem and entry.problem.question.startswith("blank:"):
            self.blanks[name] += entry.count
        elif isinstance(error, AmbiguousDate):
            self.ambiguous_dates[typed] += entry.count
        elif isinstance(error, OpenNumber):
            self.open_numbers[typed] += entry.count
        elif isinstance(error, MissingUnitError):
            self.bare.setdefault(name, Counter())[typed] += entry.count
        elif isinstance(error, UnknownWord):
            self.add_word(name, typed, error, entry.first_row, entry.count)

    def _add_reading(self, name: str, typed: str, entry: Entry) -> None:
        key = (name, word_key(name, typed))
        if key in self.read or len(self.read) < MOST_WORDS:
            word = self.read.setdefault(key, Word(name, typed, 0, entry.first_row, entry.value))
            word.count += entry.count


def some(texts: Counter[str]) -> str:
    """“3 rows: 1.234, 5.678.”"""
    total = sum(texts.values())
    shown = ", ".join(list(texts)[:EXAMPLES])
    more = " ..." if len(texts) > EXAMPLES else ""
    return f"{total:,} row{'' if total == 1 else 's'}: {shown}{more}."
