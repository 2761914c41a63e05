"""Dates of installation. 3/4/2001 is a question; nothing here answers it on its own."""

import re
from dataclasses import dataclass
from datetime import date

from registry.imports.problems import CellError

DMY, MDY = "dmy", "mdy"
ORDER_WORDS = {DMY: "day/month/year", MDY: "month/day/year"}
FIRST_YEAR = 1870  # automatic sprinklers came in the 1870s; common knowledge, no source

ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00)?)?")
YEAR = re.compile(r"(\d{4})(?:\.0)?")
PARTS = re.compile(r"(\d{1,2})[/.\- ](\d{1,2})[/.\- ](\d{4})")
SHORT_YEAR = re.compile(r"\d{1,2}[/.\-]\d{1,2}[/.\-]'?\d{2}")
DAY_WORD = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ \-]([a-z]{3,9})\.?,?[ \-](\d{4})", re.I)
WORD_DAY = re.compile(r"([a-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})", re.I)
MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september",
          "october", "november", "december")  # fmt: skip

RIGHT = "Write it like 1998-05-26, or the year alone like 1998."


@dataclass(frozen=True, slots=True)
class Installed:
    on: date
    precision: str  # "day" or "year"
    proves: str = ""  # the order that this text can only have been written in


class AmbiguousDate(CellError):
    """Both readings are real days; a person has to say which order the file uses."""


def read_date(typed: str, *, today: date, order: str | None = None) -> Installed:
    text = typed.strip()
    if not text:
        raise CellError("nothing is written here", RIGHT)
    found = _read(text, order)
    if found.on > today:
        raise CellError("it lies in the future", RIGHT)
    if found.on.year < FIRST_YEAR:
        raise CellError("it is before there were sprinklers", RIGHT)
    return found


def _read(text: str, order: str | None) -> Installed:
    if match := YEAR.fullmatch(text):
        return Installed(_day(int(match[1]), 1, 1), "year")
    if match := ISO.fullmatch(text):
        return Installed(_day(*map(int, match.groups())), "day")
    if match := DAY_WORD.fullmatch(text):
        return Installed(_day(int(match[3]), _month(match[2]), int(match[1])), "day")
    if match := WORD_DAY.fullmatch(text):
        return Installed(_day(int(match[3]), _month(match[1]), int(match[2])), "day")
    if match := PARTS.fullmatch(text):
        return _ordered(int(match[1]), int(match[2]), int(match[3]), order)
    raise CellError(_unreadable(text), RIGHT)


def _ordered(first: int, second: int, year: int, order: str | None) -> Installed:
    if first > 12 or second > 12:
        # One part cannot be a month, so the text has one reading whatever the file's order.
        day, month = (first, second) if first > 12 else (second, first)
        return Installed(_day(year, month, day), "day", DMY if first > 12 else MDY)
    if first == second:
        return Installed(_day(year, first, second), "day")
    if order is None:
        raise AmbiguousDate(
            f"it has two readings: {_words(year, second, first)} or {_words(year, first, second)}",
            f"Say which order this file uses, or w{RIGHT[1:]}",
        )
    day, month = (first, second) if order == DMY else (second, first)
    return Installed(_day(year, month, day), "day")


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise CellError("there is no such day", RIGHT) from None


def _month(word: str) -> int:
    matches = [at for at, name in enumerate(MONTHS, 1) if name.startswith(word.lower())]
    if len(matches) != 1:
        raise CellError(f"“{word}” is not a month", RIGHT)
    return matches[0]


def _words(year: int, month: int, day: int) -> str:
    return f"{day} {MONTHS[month - 1].capitalize()} {year}"


def _unreadable(text: str) -> str:
    if SHORT_YEAR.fullmatch(text):
        return "the year has two digits, so the century is open"
    if re.fullmatch(r"\d{5}(\.0)?", text):
        return "it looks like a spreadsheet's number for a day"
    return "it is not a date"
