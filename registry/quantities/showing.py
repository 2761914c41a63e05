"""Stored values -> text in a person's units. The only place where a quantity is rounded."""

import re
from dataclasses import dataclass

from registry.words.spoken import numeral

from .units import DIMENSIONS, Shown, scale_and_offset

DISPLAY_UNITS = ("us", "si")
POWERS = {"2": "²", "3": "³"}
POWER = re.compile(r"(?<=[a-z])[23]")


@dataclass(frozen=True)
class Shape:
    """A number and its unit apart, so that a page can print the unit small."""

    number: str
    unit: str

    def __str__(self) -> str:
        return f"{self.number} {self.unit}"


def format_quantity(value: float, dimension: str, units: str = "us", *, fixed: bool = False) -> str:
    """`fixed` keeps trailing zeros, for columns aligned on the decimal."""
    return str(shape_quantity(value, dimension, units, fixed=fixed))


def shape_quantity(
    value: float, dimension: str, units: str = "us", *, fixed: bool = False
) -> Shape:
    shown = _shown(value, dimension, units)
    converted = _converted(value, dimension, shown.symbol)
    if dimension != "temperature" and _is_small(converted, shown.decimals):
        number = f"{float(f'{converted:.2g}'):.12f}".rstrip("0")
    else:
        number = _round(converted, shown.decimals, fixed)
    return Shape(numeral(number), unit_text(dimension, shown.symbol))


def unit_text(dimension: str, symbol: str) -> str:
    """A pressure never appears without saying that it is gauge; ft2 is printed ft²."""
    printed = POWER.sub(lambda power: POWERS[power[0]], symbol)
    return f"{printed} gauge" if dimension == "pressure" else printed


def echo_quantity(value: float, dimension: str, units: str = "us") -> str:
    """What was understood, in the other system: “= 2.07 bar gauge” to one who typed psi."""
    other = "si" if units == "us" else "us"
    return f"= {format_quantity(value, dimension, other)}"


def input_text(value: float, dimension: str, units: str = "us") -> str:
    """Text for an edit field, to six digits, with the reader's decimal sign; a form keeps the
    stored value while it stays so."""
    symbol = _shown(value, dimension, units).symbol
    number = _converted(value, dimension, symbol)
    digits = f"{number:.6g}" if abs(number) < 1e5 else f"{number:.1f}".removesuffix(".0")
    return f"{numeral(digits)} {symbol}"


def _shown(value: float, dimension: str, units: str) -> Shown:
    choices = DIMENSIONS[dimension].shown[units]
    return [shown for shown in choices if abs(value) >= shown.at_least][-1]


def _converted(value: float, dimension: str, symbol: str) -> float:
    kind = DIMENSIONS[dimension]
    scale, offset = scale_and_offset(kind.unit(symbol).pint_name, kind.stored)
    return (value - offset) / scale


def _is_small(value: float, decimals: int) -> bool:
    """Would round to nothing, yet is more than the noise of arithmetic."""
    unit: float = 10.0**-decimals
    return 1e-6 * unit < abs(value) < 0.5 * unit


def _round(value: float, decimals: int, fixed: bool) -> str:
    text = f"{value:,.{decimals}f}"
    if not fixed and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.removeprefix("-") if float(text.replace(",", "")) == 0 else text
