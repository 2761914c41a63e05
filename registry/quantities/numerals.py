"""Numbers as people type them: fractions, thousands separators; nothing is ever evaluated.

The one rule of comma and point, which `number` in `judge.js` follows on the same cases
(`tests/registry/quantities/numerals.json`): a single sign is the decimal sign, be it comma or
point. Only where the sign that is not the reader's own stands before just three digits could it
part thousands as well (1,125 in English, 1.125 in Spanish): then the reader is asked. Signs that
come twice, or both signs in one number, leave no doubt.
"""

import math
import re
from fractions import Fraction

from django.utils.translation import gettext

from registry.words.spoken import decimal_sign

MAX_LENGTH = 60  # longer than any quantity a person types; keeps every pattern below cheap

PLAIN = re.compile(r"([0-9]+[.,]?[0-9]*|[.,][0-9]+)(e[+-]?[0-9]{1,3})?")
OPEN = re.compile(r"(?P<first>[1-9][0-9]{0,2})(?P<sign>[.,])(?P<last>[0-9]{3})")
GROUPED = {
    ",": re.compile(r"[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?"),
    ".": re.compile(r"[1-9][0-9]{0,2}(\.[0-9]{3})+(,[0-9]+)?"),
}

NUMBER = r"""
    [+-]?\ ?
    (?: [0-9]{1,6} (?:\ |\ ?-\ ?) [0-9]{1,4}/[0-9]{1,4}   # 1-1/4, 1 1/4
      | [0-9]{1,4}/[0-9]{1,4}                             # 3/4
      | [0-9]{1,3} (?:\ [0-9]{3})+ (?:[.,][0-9]+)? (?![0-9/]) # 2 858
      | [0-9.,]*[0-9][0-9.,]* (?:e[+-]?[0-9]{1,3})?       # 2,858.5
    )
"""
FRACTION = re.compile(r"(?:(?P<whole>[0-9]+)[ -]+)?(?P<over>[0-9]+)/(?P<under>[0-9]+)")

VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
PLAIN_FORMS = str.maketrans(
    {
        "’": "'", "‘": "'", "′": "'", "´": "'", "”": '"', "“": '"', "″": '"',
        "−": "-", "–": "-", "‐": "-", "‑": "-", "⁄": "/", "µ": "u", "μ": "u", "º": "°",
        "³": "3", "²": "2", "₂": "2", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\t": " ",
    }
)  # fmt: skip


class NumberError(ValueError):
    """Says in words what is wrong with the numeral."""


class TwoReadingsError(NumberError):
    """Comma or point could part thousands as well as decimals; `readings` are both, the larger
    first, each written so that it can be read in one way only by this reader."""

    def __init__(self, digits: str, readings: tuple[str, str]):
        self.digits, self.readings = digits, readings
        super().__init__(
            gettext("it can be read as {large} or as {small}").format(
                large=readings[0], small=readings[1]
            )
        )

    @property
    def right(self) -> str:
        large, small = self.readings
        return gettext("Write {large} or {small}, whichever is meant.").format(
            large=large, small=small
        )


def tidy(text: str) -> str:
    """One spelling for quotes, dashes, fractions and blanks."""
    for glyph, fraction in VULGAR.items():
        text = text.replace(glyph, f" {fraction}")
    return re.sub(r" +", " ", text.translate(PLAIN_FORMS).replace("''", '"')).strip()


def read_number(numeral: str, decimal: str | None = None) -> float:
    """The value of a tidied numeral; `decimal` is the sign before decimals, the reader's own where
    none is given. NumberError for what is no number, TwoReadingsError for what may be two."""
    value = float(with_point(numeral, decimal))
    if not math.isfinite(value):
        raise NumberError(gettext("the number is too large"))
    return value


def with_point(numeral: str, decimal: str | None = None) -> str:
    """The same with a point before its decimals and no other sign, as programs read it."""
    numeral = numeral.strip().lower()
    sign = "-" if numeral.startswith("-") else ""
    return _rewritten(sign, numeral.lstrip("+-").strip(), decimal or decimal_sign())


def _rewritten(minus: str, digits: str, decimal: str) -> str:
    if fraction := FRACTION.fullmatch(digits):
        return minus + _fraction(fraction)
    digits = digits.replace(" ", "")
    if (found := OPEN.fullmatch(digits)) and found["sign"] != decimal:
        first, last = found["first"], found["last"]
        raise TwoReadingsError(digits, (f"{minus}{first}{last}", f"{minus}{first}{decimal}{last}"))
    if PLAIN.fullmatch(digits):
        return minus + digits.replace(",", ".")
    for parts, pattern in GROUPED.items():
        if pattern.fullmatch(digits):
            return minus + digits.replace(parts, "").replace(",", ".")
    raise NumberError(gettext("“{digits}” is not a number").format(digits=digits))


def _fraction(match: re.Match[str]) -> str:
    if int(match["under"]) == 0:
        raise NumberError(gettext("a fraction cannot have 0 below the line"))
    part = Fraction(int(match["over"]), int(match["under"]))
    return str(float(int(match["whole"] or 0) + part))
