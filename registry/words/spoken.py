"""Days, hours and numbers as the reader's language writes them.

The patterns in the code are English. Where the language is English nothing is changed by a single
sign; elsewhere the names, the little words and the decimal sign become those of the language.
"""

import re
from datetime import date
from typing import Any

from django.utils.dates import MONTHS, MONTHS_3, WEEKDAYS, WEEKDAYS_ABBR
from django.utils.translation import get_language

STRFTIME = {
    "es": (("%-d %B %Y", "%-d de %B de %Y"), ("%-d %B", "%-d de %B"), ("%B %Y", "%B de %Y"))
}
"""Longest first: what was replaced matches no later pattern."""
DJANGO = {
    "es": (
        ("j F Y", r"j \d\e F \d\e Y"),
        ("j F", r"j \d\e F"),
        ("F Y", r"F \d\e Y"),
    )
}
SIGNS = {"es": str.maketrans({",": "\u00a0", ".": ","})}
NAMED = re.compile("%[aAbB]")


def language() -> str:
    """Without the variant: “es”, “en”."""
    return (get_language() or "en")[:2]


def written(when: Any, pattern: str) -> str:
    """A day or an instant by a pattern of `strftime`, with the language's own names and words."""
    if (here := language()) != "en":
        pattern = _replaced(pattern, STRFTIME.get(here, ()))
        pattern = NAMED.sub(lambda found: _name(when, found[0]), pattern)
    return str(when.strftime(pattern))


def day_words(day: date) -> str:
    """“3 March 2026”, “3 de marzo de 2026”."""
    return written(day, "%-d %B %Y")


def django_pattern(pattern: str) -> str:
    """The same for a pattern of the templates' `date`."""
    return _replaced(pattern, DJANGO.get(language(), ()))


def decimal_sign() -> str:
    """The sign that parts the decimals in the language of the reader."""
    return "," if language() in SIGNS else "."


def numeral(text: str) -> str:
    """An English numeral, “1,234.5”, with the signs of the language."""
    signs = SIGNS.get(language())
    return text.translate(signs) if signs else text


class Spoken:
    """A day or an instant for a sentence that says how to write it: `{day:%-d %B %Y}`."""

    def __init__(self, when: Any):
        self.when = when

    def __format__(self, pattern: str) -> str:
        return written(self.when, pattern) if pattern else str(self)

    def __str__(self) -> str:
        return day_words(self.when)


class Number(float):
    """A number for a sentence that says how to write it: `{share:.1f}`."""

    def __format__(self, how: str) -> str:
        return numeral(super().__format__(how))


def _name(when: Any, token: str) -> str:
    if token in ("%A", "%a"):
        names = WEEKDAYS if token == "%A" else WEEKDAYS_ABBR
        return str(names[when.weekday()])
    return str((MONTHS if token == "%B" else MONTHS_3)[when.month])


def _replaced(pattern: str, pairs: Any) -> str:
    """The first that fits: each longer pattern holds the shorter ones."""
    for english, theirs in pairs:
        if english in pattern:
            return pattern.replace(english, theirs)
    return pattern
