"""Lengths, walls and pressures: the decimal sign of the file, units in ten languages."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from django.utils.translation import gettext

from registry.imports.answers import word_key
from registry.imports.columns import unit_symbol
from registry.imports.numerals import COMMA, is_open, proves, with_point
from registry.imports.problems import CellError
from registry.imports.text import NUMBER, plain
from registry.imports.vocabulary import is_mark
from registry.quantities import MissingUnitError, QuantityError, parse_quantity
from registry.translation import _

SIMPLE = re.compile(r"(?P<number>\d{1,9}(?:\.\d{1,9})?) ?(?P<unit>m|ft|mm|psi|bar|in)?")
PARTS = re.compile(r"(?P<number>[\d.,'’\u00a0\u202f\u2009 /-]*\d)(?P<unit>\s*[^\d\s].*)?$", re.S)
ABOUT = re.compile(r"^(?P<word>[~≈±]|[^\W\d]+\.?)\s*(?=\d)")
ALSO_FEET = re.compile(r"\d+(?:\.\d+)?\s*['′’]\s*(?:-?\s*\d)|\d\s*ft\.?\s*\d", re.I)
OPEN_NUMBER = _(
    "it is two different numbers, by whether the comma or the point is the decimal sign"
)


@dataclass(frozen=True)
class Reading:
    """How a column of amounts is to be read."""

    dimension: str
    unit: str | None  # for a number without one
    decimal: str | None  # comma, point, or not known yet


class OpenNumber(CellError):
    question = "decimal"


def read_amount(typed: str, reading: Reading) -> float:
    """The value in the stored unit of its dimension."""
    text = plain(typed)
    if typed[:1] == NUMBER:
        return _value(text, reading)
    if reading.decimal is None and is_open(text):
        raise OpenNumber(
            OPEN_NUMBER, gettext("Say for the whole file which sign parts the decimals.")
        )
    form = reading.decimal or proves(text) or "point"
    other = proves(text)
    if reading.decimal and other and other != reading.decimal and "/" not in text:
        raise CellError(
            _wrong_sign(text, other),
            gettext("Write %(number)s.") % {"number": with_point(text, other)},
        )
    return _value(with_point(_without_about(text), form), reading)


def _wrong_sign(text: str, form: str) -> str:
    sign = "comma" if form == COMMA else "point"
    return gettext(
        "a decimal %(sign)s is not what the rest of the file has: write "
        "%(with_point)s if that is meant"
    ) % {"sign": sign, "with_point": with_point(text, form)}


def _without_about(text: str) -> str:
    match = ABOUT.match(text.strip())
    if match and is_mark("about", match["word"]):
        return text.strip()[match.end() :]
    return text


@lru_cache(maxsize=32_768)
def _value(text: str, reading: Reading) -> float:
    text = text.strip()
    if match := SIMPLE.fullmatch(text):
        unit = match["unit"] or reading.unit
        if unit:
            return float(match["number"]) * _factor(unit, reading.dimension)
    if not ALSO_FEET.search(text) and (parts := PARTS.match(text)) and parts["unit"]:
        symbol = unit_symbol(parts["unit"])
        if symbol:
            text = f"{parts['number']} {symbol}"
    return parse_quantity(text, reading.dimension, default_unit=reading.unit, decimal=".").value_si


@lru_cache(maxsize=64)
def _factor(unit: str, dimension: str) -> float:
    return parse_quantity(f"1 {unit}", dimension, decimal=".").value_si


def is_unit(unit: str, dimension: str) -> bool:
    try:
        parse_quantity(f"1 {unit}", dimension, decimal=".")
    except QuantityError:
        return False
    return True


def is_bare(typed: str) -> bool:
    return bool(re.fullmatch(r"[\d.,'’\s]+", plain(typed).strip()))


def is_confirmed(column: str, typed: str, chosen: Mapping[str, str]) -> bool:
    """Somebody said of this very entry that it is right."""
    return word_key(column, plain(typed)) in chosen


__all__ = ["MissingUnitError", "OpenNumber", "Reading", "is_bare", "is_confirmed", "is_unit",
           "read_amount"]  # fmt: skip
