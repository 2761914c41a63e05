"""Numbers as people type them: fractions, thousands separators; nothing is ever evaluated."""

import math
import re
from fractions import Fraction

from django.utils.translation import gettext

MAX_LENGTH = 60  # longer than any quantity a person types; keeps every pattern below cheap

GROUPED = re.compile(r"[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?")
PLAIN = re.compile(r"([0-9]+\.?[0-9]*|\.[0-9]+)(e[+-]?[0-9]{1,3})?")
DECIMAL_COMMA = re.compile(r"(?P<whole>[0-9]{1,3}(\.[0-9]{3})+|[0-9]+),(?P<decimals>[0-9]+)")

NUMBER = r"""
    [+-]?\ ?
    (?: [0-9]{1,6} (?:\ |\ ?-\ ?) [0-9]{1,4}/[0-9]{1,4}   # 1-1/4, 1 1/4
      | [0-9]{1,4}/[0-9]{1,4}                             # 3/4
      | [0-9]{1,3} (?:\ [0-9]{3})+ (?:\.[0-9]+)? (?![0-9/]) # 2 858
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


def tidy(text: str) -> str:
    """One spelling for quotes, dashes, fractions and blanks."""
    for glyph, fraction in VULGAR.items():
        text = text.replace(glyph, f" {fraction}")
    return re.sub(r" +", " ", text.translate(PLAIN_FORMS).replace("''", '"')).strip()


def read_number(numeral: str) -> float:
    """The value of a tidied numeral: 0,9 and 0.9 are the same, and 1,060 is a thousand and sixty,
    as a comma before just three digits parts thousands. NumberError for what is no number."""
    numeral = numeral.strip().lower()
    sign = -1.0 if numeral.startswith("-") else 1.0
    digits = numeral.lstrip("+-").strip()
    value = _unsigned(digits)
    if not math.isfinite(value):
        raise NumberError(gettext("the number is too large"))
    return sign * value


def _unsigned(digits: str) -> float:
    if fraction := FRACTION.fullmatch(digits):
        return _fraction(fraction)
    if " " in digits:
        digits = digits.replace(" ", "")
    if PLAIN.fullmatch(digits):
        return float(digits)
    if GROUPED.fullmatch(digits):
        return float(digits.replace(",", ""))
    if comma := DECIMAL_COMMA.fullmatch(digits):
        return float(f"{comma['whole'].replace('.', '')}.{comma['decimals']}")
    raise NumberError(gettext("“{digits}” is not a number").format(digits=digits))


def _fraction(match: re.Match[str]) -> float:
    if int(match["under"]) == 0:
        raise NumberError(gettext("a fraction cannot have 0 below the line"))
    part = Fraction(int(match["over"]), int(match["under"]))
    return float(int(match["whole"] or 0) + part)
