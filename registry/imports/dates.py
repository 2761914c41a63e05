"""Dates of installation with how exactly they are known. 3/4/2001 is a question."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext

from registry.imports.problems import CellError
from registry.imports.text import NUMBER, fold, plain
from registry.imports.vocabulary import is_mark, mark_words, numbered
from registry.models.systems import InstalledPrecision as Precision
from registry.translation import _

DMY, MDY = "dmy", "mdy"
ORDERS = (DMY, MDY)
ORDER_WORDS = {DMY: "day/month/year", MDY: "month/day/year"}
FIRST_YEAR = 1870  # automatic sprinklers came in the 1870s; common knowledge, no source
PLACEHOLDERS = {1899, 1900, 1904, 9999, 1111, 2099}
SERIALS = (10_000, 73_050)  # 1927 to 2099, counted in days from the end of 1899

ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{2}:\d{2}(?::\d{2})?)?")
COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
YEAR = re.compile(r"(\d{4})(?:\.0)?")
YEAR_LETTERS = re.compile(r"((?:18|19|20)\d{2}) ?[^\W\d]{1,2}\.?")  # a word for “year”, cut short
PARTS = re.compile(r"(\d{1,2})([/.\- ])(\d{1,2})[/.\- ]'?(\d{4}|\d{2})\.?")
YEAR_MONTH = re.compile(r"(\d{4})[-/.](\d{1,2})")
MONTH_YEAR = re.compile(r"(\d{1,2})[-/.](\d{4})")
DAY_WORD = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|er|\.?º|\.)?(?: de | ?/ ?| |-)([^\W\d]+)\.?,?"
    r"(?: del? | ?/ ?| |-)(\d{4})"
)
WORD_DAY = re.compile(r"([^\W\d]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})")
WORD_YEAR = re.compile(r"([^\W\d]+)\.?,?(?: del? |[ \-/])'?(\d{4}|\d{2})")
YEAR_WORD = re.compile(r"(?P<year>\d{4})[ \-/](?P<month>[^\W\d]+)\.?")
QUARTER = re.compile(r"(.+?)[ /\-]*(\d{4})|(\d{4})[ /\-]*(.+)")
DECADE = re.compile(
    r"(?:the |anni |anos |annees |jaren )?'?(\d{2}|\d{3}0)'?"
    r"(?:s|er|er jahre| talet| tallet| tal| erne| luku)?"
)
RANGE = re.compile(r"(\d{4}) ?(?:[-–/]|to|bis|a|à|and|&|u\.?|y|al) ?(\d{2}|\d{4})")
WEEK = re.compile(r"(\d{4})-W(\d{1,2})|(?:kw|wk|week|v|uke|uge|vko|w) ?(\d{1,2})[ /](\d{4})")

RIGHT = _("Write it like 1998-05-26, or the year alone like 1998.")
SEASONS = {"spring": 4, "summer": 7, "autumn": 10, "winter": 1}  # the quarter most of it is in


@dataclass(frozen=True, slots=True)
class Installed:
    on: date
    precision: str
    proves: str = ""  # the order that this text can only have been written in
    note: str = ""  # what was taken for granted: a century, a spreadsheet's number of a day


class AmbiguousDate(CellError):
    """Both readings are real days; a person has to say which order the file uses."""

    question = "date_order"


def read_date(typed: str, *, today: date, order: str | None = None) -> Installed:
    text = plain(typed).strip()
    if not text:
        raise CellError(gettext("nothing is written here"), RIGHT)
    found = _read(text, order, today, is_number=typed[:1] == NUMBER)
    if found.on > today:
        raise CellError(gettext("it lies in the future"), RIGHT)
    if found.on.year < FIRST_YEAR:
        raise CellError(gettext("it is before there were sprinklers"), RIGHT)
    return found


def _read(text: str, order: str | None, today: date, *, is_number: bool) -> Installed:
    if _is_placeholder(text):
        raise CellError(gettext("it is what a spreadsheet shows for an empty date"), RIGHT)
    if match := YEAR.fullmatch(text):
        return Installed(_day(int(match[1]), 1, 1), Precision.YEAR)
    if match := ISO.fullmatch(text) or COMPACT.fullmatch(text):
        return Installed(_day(*map(int, match.groups())), Precision.DAY)
    if match := PARTS.fullmatch(text):
        return _ordered(match, order, today)
    if found := _serial(text) or _coarse(text) or _worded(text.lower(), today):
        return found
    if about := _without(text, "about"):
        return _as(_read(about, order, today, is_number=is_number), Precision.ABOUT)
    if before := _without(text, "before"):
        return _as(_read(before, order, today, is_number=is_number), Precision.BEFORE)
    if (match := YEAR_LETTERS.fullmatch(text)) and int(match[1]) <= today.year:
        return Installed(_day(int(match[1]), 1, 1), Precision.YEAR, "", "letters")
    raise CellError(gettext("it is not a date"), RIGHT)


def _is_placeholder(text: str) -> bool:
    if text in ("0", "1", "1900-01-00"):
        return True
    year = re.match(r"(\d{4})(?:-01-0[01])?(?: 00:00(?::00)?)?$", text)
    shown = re.fullmatch(r"0?1[/.-]0?[01][/.-](1900|1904|9999)|31[/.-]12[/.-](1899|9999)", text)
    return bool(shown) or bool(year and int(year[1]) in PLACEHOLDERS)


def _as(found: Installed, precision: str) -> Installed:
    """About or before a year, whatever day of it was written."""
    return Installed(found.on.replace(month=1, day=1), precision, found.proves, found.note)


def _ordered(match: re.Match[str], order: str | None, today: date) -> Installed:
    first, sign, second = int(match[1]), match[2], int(match[3])
    year, note = _year(match[4], today)
    if sign == "." and order is None:
        order = DMY  # nobody parts month, day and year by full stops; common practice, no source
    if first > 12 or second > 12:
        # One part cannot be a month, so the text has one reading whatever the file's order.
        day, month = (first, second) if first > 12 else (second, first)
        proves = DMY if first > 12 else MDY
        return Installed(_day(year, month, day), Precision.DAY, proves, note)
    if first == second:
        return Installed(_day(year, first, second), Precision.DAY, "", note)
    if order is None:
        raise AmbiguousDate(
            (
                gettext("it has two readings: %(words)s or %(words_2)s")
                % {"words": _words(year, second, first), "words_2": _words(year, first, second)}
            ),
            gettext("Say which order this file uses, or write the day like 1998-05-26."),
        )
    day, month = (first, second) if order == DMY else (second, first)
    return Installed(_day(year, month, day), Precision.DAY, "", note)


def _year(text: str, today: date) -> tuple[int, str]:
    """Two digits are the last year that ended so: no system is of the future."""
    if len(text) == 4:
        return int(text), ""
    year = today.year // 100 * 100 + int(text)
    return year if year <= today.year else year - 100, "century"


def _serial(text: str) -> Installed | None:
    match = re.fullmatch(r"(\d{5})(?:\.\d+)?", text)
    if not match or not SERIALS[0] <= int(match[1]) <= SERIALS[1]:
        return None
    return Installed(
        date(1899, 12, 30) + timedelta(days=int(match[1])), Precision.DAY, "", "serial"
    )


def _coarse(text: str) -> Installed | None:
    """Months, weeks, quarters, decades and spans of years in figures."""
    if match := YEAR_MONTH.fullmatch(text):
        return Installed(_day(int(match[1]), int(match[2]), 1), Precision.MONTH)
    if match := MONTH_YEAR.fullmatch(text):
        return Installed(_day(int(match[2]), int(match[1]), 1), Precision.MONTH)
    if match := WEEK.fullmatch(text.casefold().replace("-w", "-W")):
        year, week = int(match[1] or match[4]), int(match[2] or match[3])
        if 1 <= week <= 53:
            day = date(year, 1, 1) + timedelta(weeks=week - 1)
            return Installed(day.replace(day=1), Precision.MONTH)
    if match := RANGE.fullmatch(text):
        first = int(match[1])
        last = int(match[2]) if len(match[2]) == 4 else first // 100 * 100 + int(match[2])
        if 0 < last - first <= 40:
            return Installed(_day(first, 1, 1), Precision.ABOUT, "", "span")
    if match := DECADE.fullmatch(fold(text).replace(" s", "s")):
        number = int(match[1])
        if text.strip() != match[1] and (number >= 1000 or number % 10 == 0):
            year = number if number >= 1000 else (1900 if number >= 30 else 2000) + number
            return Installed(_day(year, 1, 1), Precision.DECADE)
    return None


def _worded(text: str, today: date) -> Installed | None:
    if match := QUARTER.fullmatch(text):
        word, year = fold(match[1] or match[4]), int(match[2] or match[3])
        if found := _part_of_year(word, year):
            return found
    if match := DAY_WORD.fullmatch(text):
        return Installed(_day(int(match[3]), _month(match[2]), int(match[1])), Precision.DAY)
    if match := WORD_DAY.fullmatch(text):
        return Installed(_day(int(match[3]), _month(match[1]), int(match[2])), Precision.DAY)
    if (match := WORD_YEAR.fullmatch(text)) and (month := _month_number(match[1])):
        year, note = _year(match[2], today)
        return Installed(_day(year, month, 1), Precision.MONTH, "", note)
    if (match := YEAR_WORD.fullmatch(text)) and (month := _month_number(match["month"])):
        return Installed(_day(int(match["year"]), month, 1), Precision.MONTH)
    return None


def _part_of_year(word: str, year: int) -> Installed | None:
    if quarter := numbered("quarter").get(word):
        return Installed(_day(year, 3 * int(quarter[1]) - 2, 1), Precision.QUARTER)
    if half := numbered("half").get(word):
        return Installed(_day(year, 6 * int(half[1]) - 5, 1), Precision.HALF)
    if season := numbered("season").get(word):
        return Installed(_day(year, SEASONS[season], 1), Precision.QUARTER)
    return None


def _without(text: str, mark: str) -> str:
    """The rest of a text that begins or ends with “about”, “before” and the like."""
    if text[:1] in "~≈±<≤" and (mark == "about") == (text[0] not in "<≤"):
        return text[1:].strip()
    match = re.fullmatch(r"(?P<word>[^\d]+?)[ .\-]*(?P<rest>\d.*)", text)
    if match and (fold(match["word"]) in mark_words(mark) or is_mark(mark, match["word"].strip())):
        return match["rest"]
    match = re.fullmatch(r"(?P<rest>\d[\d/.\-]*)[ ]*(?P<word>[^\d]+|\?)", text)
    if match and is_mark(mark, match["word"].strip(" ()")):
        return match["rest"]
    return ""


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise CellError(gettext("there is no such day"), RIGHT) from None


def _month(word: str) -> int:
    month = _month_number(word)
    if not month:
        raise CellError((gettext("“%(word)s” is not a month") % {"word": word}), RIGHT)
    return month


def _month_number(word: str) -> int:
    return int(numbered("month").get(fold(word), 0))


MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
          "October", "November", "December")  # fmt: skip


def _words(year: int, month: int, day: int) -> str:
    return f"{day} {MONTHS[month - 1]} {year}"
