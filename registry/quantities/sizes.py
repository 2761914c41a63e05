"""Nominal pipe sizes. The book writes NPS ("1-1/4"); DN and decimals are read too.

NPS and DN pairs: ASME B36.10M and ISO 6708 (from memory, check the primary documents).
"""

import re
from fractions import Fraction

from django.utils.translation import gettext

from .numerals import MAX_LENGTH, NumberError, read_number, tidy
from .parsing import QuantityError

DN_BY_SIZE = {
    "1/2": 15, "3/4": 20, "1": 25, "1-1/4": 32, "1-1/2": 40, "2": 50, "2-1/2": 65, "3": 80,
    "3-1/2": 90, "4": 100, "5": 125, "6": 150, "8": 200, "10": 250, "12": 300,
}  # fmt: skip
SIZES = tuple(DN_BY_SIZE)

SIZE = re.compile(r"(?:nps ?)?(?P<number>[0-9./ -]+?) ?(?P<unit>\"|in\.?|inch|inches|nps)?", re.I)
METRIC = re.compile(r"(?:dn|Ø) ?(?P<dn>[0-9]{1,4})(?: ?mm)?|(?P<mm>[0-9]{1,4}) ?(?:mm|nb|dn)", re.I)


def size_text(size: str, units: str = "us") -> str:
    """A stored size as a person writes it: 1-1/4 in, or DN32 to one who reads SI."""
    if units == "si" and size in DN_BY_SIZE:
        return f"DN{DN_BY_SIZE[size]}"
    return f"{size} in"


def size_value(size: str) -> float:
    return float(sum(Fraction(part) for part in size.split("-")))


INCHES = {size_value(size): size for size in SIZES}


def parse_nominal_size(text: object) -> str:
    """The NPS of a size typed as 1-1/4", 1 1/4, 1.25, 4 inch, 4 or DN32."""
    typed = str(text)
    if len(typed) > MAX_LENGTH:
        raise QuantityError(typed, gettext("it is too long to be a pipe size"), _write_like())
    tidied = tidy(typed)
    if match := METRIC.fullmatch(tidied):
        return _from_metric(typed, int(match["dn"] or match["mm"]))
    if match := SIZE.fullmatch(tidied):
        return _from_inches(typed, match["number"])
    raise QuantityError(typed, gettext("it is not a nominal pipe size"), _write_like())


def _from_inches(typed: str, numeral: str) -> str:
    try:
        inches = read_number(numeral)
    except NumberError as error:
        raise QuantityError(typed, str(error), _write_like()) from None
    if inches in INCHES:
        return INCHES[inches]
    if inches > max(INCHES) and inches in DN_BY_SIZE.values():
        dn = int(inches)
        raise QuantityError(
            typed,
            gettext("no unit, and no pipe is that many inches"),
            gettext("Write DN{dn}.").format(dn=dn),
        )
    raise QuantityError(
        typed, gettext("no pipe is made in this size"), _neighbours(inches, INCHES, '{}"')
    )


def _from_metric(typed: str, dn: int) -> str:
    by_dn = {float(value): size for size, value in DN_BY_SIZE.items()}
    if dn in by_dn:
        return by_dn[dn]
    sizes = {value: str(int(value)) for value in by_dn}
    raise QuantityError(
        typed, gettext("no pipe is made in this size"), _neighbours(dn, sizes, "DN{}")
    )


def _neighbours(value: float, sizes: dict[float, str], pattern: str) -> str:
    below = [size for size in sizes if size < value]
    above = [size for size in sizes if size > value]
    near = [pattern.format(sizes[size]) for size in (below[-1:] + above[:1])]
    return (
        gettext("The nearest sizes are {near}.").format(near=" and ".join(near))
        if len(near) > 1
        else _only(near[0], below)
    )


def _only(size: str, below: list[float]) -> str:
    return gettext("The {smallest} size here is {size}.").format(
        smallest="largest" if below else "smallest", size=size
    )


def _write_like() -> str:
    return gettext("Write it like 1-1/4 or DN32.")
