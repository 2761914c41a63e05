"""Text as typed -> a value in the stored unit of its dimension. Never evaluates the text."""

import re
from dataclasses import dataclass

from django.utils.translation import gettext

from registry.words.spoken import numeral

from .numerals import MAX_LENGTH, NUMBER, NumberError, TwoReadingsError, read_number, tidy
from .units import (
    ABSOLUTE,
    DIMENSIONS,
    Dimension,
    Unit,
    pressure_aliases,
    scale_and_offset,
)

STANDARD_ATMOSPHERE_PA = 101_325.0

ONE = re.compile(rf"(?P<number>{NUMBER})\ ?(?P<unit>.*)", re.VERBOSE | re.IGNORECASE | re.DOTALL)
TWO = re.compile(
    rf"(?P<number>{NUMBER})\ ?(?P<unit>[a-z'\"]+)\.?[\ -]*"
    rf"(?P<number2>{NUMBER})\ ?(?P<unit2>[a-z'\"]+)\.?",
    re.VERBOSE | re.IGNORECASE,
)


class QuantityError(ValueError):
    """What was typed, what is wrong with it, and what would be right."""

    def __init__(self, typed: str, wrong: str, right: str):
        self.typed, self.wrong, self.right = typed, wrong, right
        super().__init__(f"“{shorten(typed)}”: {wrong}. {right}")


class OpenQuantityError(QuantityError):
    """Two numbers, by whether its comma or point parts thousands: `meant` are both, as typed but
    for the number."""

    def __init__(self, typed: str, open_number: TwoReadingsError):
        self.meant = tuple(
            re.sub(NUMERAL, reading, tidy(typed), count=1) for reading in open_number.readings
        )
        super().__init__(typed, str(open_number), open_number.right)


class MissingUnitError(QuantityError):
    """A bare number: which unit is meant can still be asked."""


NUMERAL = re.compile(r"[+-]? ?[0-9]+[.,][0-9]{3}")


class _NoUnit(NumberError):
    pass


@dataclass(frozen=True)
class Quantity:
    """`value_si` is in the stored unit of the dimension; a pressure is always gauge there,
    and `reference` says which way it was typed (None: not said, taken as gauge)."""

    value_si: float
    unit_as_typed: str
    reference: str | None = None


def parse_quantity(
    text: str,
    dimension: str,
    *,
    default_unit: str | None = None,
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA,
    decimal: str | None = None,
) -> Quantity:
    """`decimal`: the sign before decimals; without one, that of the reader's language."""
    kind = DIMENSIONS[dimension]
    typed = str(text)
    try:
        value, symbol, reference = _read(typed, kind, default_unit or kind.default_unit, decimal)
    except TwoReadingsError as error:
        raise OpenQuantityError(typed, error) from None
    except NumberError as error:
        kind_of_error = MissingUnitError if isinstance(error, _NoUnit) else QuantityError
        raise kind_of_error(typed, str(error), write_like(kind)) from None
    if reference == ABSOLUTE:
        if value < 0:
            raise QuantityError(
                typed, gettext("an absolute pressure cannot be negative"), write_like(kind)
            )
        value -= atmosphere_pa
    _check_range(typed, value, kind)
    return Quantity(value, symbol, reference)


def write_like(kind: Dimension) -> str:
    examples = dict.fromkeys(map(numeral, kind.examples.values()))
    return gettext("Write it like {examples}.").format(examples=" or ".join(examples))


def shorten(typed: str, limit: int = MAX_LENGTH) -> str:
    return typed if len(typed) <= limit else typed[: limit - 3] + "..."


def _read(
    typed: str, kind: Dimension, default: str | None, decimal: str | None
) -> tuple[float, str, str | None]:
    if len(typed) > MAX_LENGTH:
        raise NumberError(gettext("it is too long to be a quantity"))
    text = tidy(typed)
    if not text:
        raise NumberError(gettext("nothing was typed"))
    if kind.is_compound and (pair := TWO.fullmatch(text)) and kind.unit_for(pair["unit"].lower()):
        return _read_pair(pair, kind, decimal)
    match = ONE.match(text)
    if not match:
        raise NumberError(gettext("it does not begin with a number"))
    unit, reference = _unit(match["unit"], kind, default)
    return _stored(read_number(match["number"], decimal), unit, kind), unit.symbol, reference


def _read_pair(
    pair: re.Match[str], kind: Dimension, decimal: str | None
) -> tuple[float, str, None]:
    """12' 6", 1 h 30 min: the second part adds to the first and is smaller than one of it."""
    large, _ = _unit(pair["unit"], kind, None)
    small, _ = _unit(pair["unit2"], kind, None)
    whole = read_number(pair["number"], decimal)
    part = _stored(read_number(pair["number2"], decimal), small, kind)
    if not 0 <= part < _stored(1, large, kind):
        raise NumberError(
            gettext("“{number2} {symbol}” is not a part of one {symbol_2}").format(
                number2=pair["number2"], symbol=small.symbol, symbol_2=large.symbol
            )
        )
    sign = -1 if pair["number"].startswith("-") else 1
    return _stored(whole, large, kind) + sign * part, f"{large.symbol} {small.symbol}", None


def _stored(value: float, unit: Unit, kind: Dimension) -> float:
    scale, offset = scale_and_offset(unit.pint_name, kind.stored)
    return value * scale + offset


def _unit(typed: str, kind: Dimension, default: str | None) -> tuple[Unit, str | None]:
    key = re.sub(r"[\s°.()]", "", typed.lower())
    if not key:
        if typed.strip() or default is None:
            raise _NoUnit(gettext("the unit is missing"))
        key = default.lower().replace(" ", "").replace("°", "")
    if kind.name == "pressure":
        found, reference = pressure_aliases().get(key, (None, None))
    else:
        found, reference = kind.unit_for(key), None
    if found is None:
        raise NumberError(_unknown_unit(typed.strip(), key, kind))
    return found, reference


def _unknown_unit(typed: str, key: str, kind: Dimension) -> str:
    if re.match(r"-|to\b|or\b", typed):
        return gettext("it looks like a range, and one value is needed")
    for other in DIMENSIONS.values():
        if other.unit_for(key) or (other.name == "pressure" and key in pressure_aliases()):
            return gettext("it is not {noun}: {typed} measures {noun_2}").format(
                noun=kind.noun, typed=shorten(typed, 20), noun_2=other.noun
            )
    known = ", ".join(unit.symbol for unit in kind.units)
    return gettext("“{typed}” is not a unit known here ({known})").format(
        typed=shorten(typed, 20), known=known
    )


def _check_range(typed: str, value: float, kind: Dimension) -> None:
    if value < kind.lowest:
        raise QuantityError(typed, _too_low(kind), write_like(kind))
    if value > kind.highest:
        limit = (
            gettext("more than 100 %")
            if kind.name == "percent"
            else gettext("larger than any real one")
        )
        raise QuantityError(
            typed,
            gettext("as {noun} it is {limit}").format(noun=kind.noun, limit=limit),
            write_like(kind),
        )


def _too_low(kind: Dimension) -> str:
    if kind.name == "temperature":
        return gettext("it is below absolute zero")
    if kind.name == "pressure":
        return gettext("it is below a perfect vacuum")
    if kind.name == "altitude":
        return gettext("it is lower than any dry land")
    return gettext("{noun} cannot be negative").format(noun=kind.noun)
