"""Nominal sizes as registers write them: inches, DN, outside diameters, French pairs, size x wall.

A number alone is read with what the column says of itself: DN, or inches. What a spreadsheet
program turned into a day is a damaged cell and is asked about.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from django.utils.translation import gettext

from registry.imports.answers import word_key
from registry.imports.cells import UnknownWord, chosen_code
from registry.imports.problems import CellError
from registry.imports.text import DAY, fold, plain
from registry.imports.vocabulary import Ask, numbered, outside_diameters
from registry.quantities import DN_BY_SIZE, SIZES, QuantityError, parse_nominal_size

DN, INCHES = "DN", "in"
DIAMETERS = "OD"  # the column holds outside diameters, and a number alone is never a DN
BY_DN = {dn: size for size, dn in DN_BY_SIZE.items()}
ROUNDED = {33: "1", 34: "1", 42: "1-1/4", 48: "1-1/2", 60: "2", 73: "2-1/2", 76: "2-1/2", 89: "3",
           108: "4", 114: "4", 139: "5", 140: "5", 141: "5", 159: "6", 165: "6", 168: "6",
           219: "8", 22: "3/4", 28: "1", 35: "1-1/4", 54: "2", 67: "2-1/2"}  # fmt: skip
# Outside diameters rounded to whole millimetres, and those of copper and pressed pipe: from memory.

TIMES = re.compile(r"(?P<size>.+?)\s*[x×*]\s*(?P<wall>\d+(?:\.\d+)?)(?:\s*mm)?", re.I)
DIAMETER = re.compile(
    r"(?:ø|Ø|od|o\.d\.|d)?\s*(?P<mm>\d{2,3}(?:\.\d{1,2})?)\s*(?:mm)?\s*(?:od|o\.d\.)?", re.I
)
BROKEN = re.compile(r"(?P<whole>\d)\s*[\"'”″]+\s*(?P<part>\d/\d)")
LETTERED = re.compile(
    r"(?:dn|nb|nd|nw|ns|d|Ø|ø)[\s.-]*(?P<dn>\d{2,3})(?:\s*(?:mm|nb))*"
    r"|(?P<after>\d{2,3})\s*(?:mm|nb|dn|nw)(?:\s*nb)?",
    re.I,
)
THREAD = re.compile(r"(?:r|g|rp|nps|ips)\s*(?=\d|[½¼¾])|\s*(?:nb|nps|ips|npt|bsp)$", re.I)
IN_BRACKETS = re.compile(r"\s*\([^)]*\)\s*$")
ISO_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?: 00:00(?::00)?)?")
SHOWN_DAY = re.compile(r"(\d{1,2})-([A-Z][a-z]{2})|([A-Z][a-z]{2})-(\d{2})")


@dataclass(frozen=True, slots=True)
class Size:
    nominal: str
    outside_diameter_mm: float | None = None  # where it is not that of the table
    wall_mm: float | None = None


def read_size(typed: str, *, unit: str | None, chosen: Mapping[str, str]) -> Size:
    """`unit` is what a number alone means in this column: DN, in, OD, or None where it does not
    say."""
    text = " ".join(plain(typed).split())
    if answer := chosen.get(word_key("nominal_size", text)):
        return Size(parse_nominal_size(chosen_code("nominal_size", answer, text)))
    if typed[:1] == DAY or ISO_DAY.fullmatch(text) or SHOWN_DAY.fullmatch(text):
        raise _damaged(text)
    return _read(text, unit)


@lru_cache(maxsize=4096)
def _read(text: str, unit: str | None) -> Size:
    tidied = _tidy(text)
    if times := TIMES.fullmatch(tidied):
        size = _beside_wall(times["size"], unit)
        return Size(size.nominal, size.outside_diameter_mm, float(times["wall"]))
    if tidied in outside_diameters():
        nominal, diameter = outside_diameters()[tidied]
        return Size(nominal, diameter)
    if match := LETTERED.fullmatch(tidied):
        number = int(match["dn"] or match["after"])
        if number in BY_DN:
            return Size(BY_DN[number])
    if re.fullmatch(r"\d+(?:\.0+)?", tidied):
        return _bare(text, int(float(tidied)), unit)
    if (match := DIAMETER.fullmatch(tidied)) and "." in match["mm"]:
        nominal, diameter = outside_diameters().get(f"{float(match['mm']):g}", ("", None))
        if nominal:
            return Size(nominal, diameter)
    if match and int(float(match["mm"])) in ROUNDED:
        raise _rounded(int(float(match["mm"])))
    return Size(parse_nominal_size(tidied))


def _beside_wall(text: str, unit: str | None) -> Size:
    """“54 x 1.5”: what a wall stands beside is the outside diameter, where it is no DN."""
    number = re.fullmatch(r"(\d{2,3})(?:\.0+)?(?: ?mm)?", text)
    if number and int(number[1]) in ROUNDED and unit != INCHES:
        return Size(ROUNDED[int(number[1])], float(number[1]))
    return _read(text, unit)


def _tidy(text: str) -> str:
    text = IN_BRACKETS.sub("", text.strip())
    text = BROKEN.sub(r"\g<whole> \g<part>", text.replace("''", '"'))
    text = THREAD.sub("", text).strip()
    text = re.sub(r"(?<=\d),(?=\d)", ".", text)
    match = re.fullmatch(r"(?P<number>[\d\s./½¼¾-]+?)\s*(?P<unit>[^\W\d]+\.?)", text)
    if match and numbered("unit").get(fold(match["unit"])) == "in":
        text = match["number"] + '"'
    return text


def _bare(typed: str, number: int, unit: str | None) -> Size:
    if unit == INCHES or (unit is None and number <= 12):
        return Size(parse_nominal_size(str(number)))
    if number in BY_DN and unit != DIAMETERS:
        return Size(BY_DN[number])
    if number in ROUNDED:
        raise _rounded(number)
    if unit == DN:
        return Size(parse_nominal_size(f"DN{number}"))
    raise QuantityError(
        typed, gettext("no pipe is made in this size"), gettext("Write it like 1-1/4 or DN32.")
    )


def _rounded(number: int) -> UnknownWord:
    size = ROUNDED[number]
    return UnknownWord(
        gettext("it may be an outside diameter, rounded, or the size of copper or pressed pipe"),
        (gettext("Write DN%(dn_by_size)s, or the size it is.") % {"dn_by_size": DN_BY_SIZE[size]}),
        Ask("", (size,), size),
    )


def _damaged(text: str) -> CellError:
    """3/4 became the fourth of March: the made sizes among both readings are proposed."""
    made = [size for size in _as_fractions(text) if size in SIZES]
    wrong = gettext("a spreadsheet program made a date of this size")
    if made:
        wrong = gettext("a spreadsheet program made a date of this size. Was it %(made)s?") % {
            "made": " or ".join(made)
        }
    return UnknownWord(
        wrong,
        gettext("Write it like 3/4 in or DN20."),
        Ask("", tuple(made), made[0] if len(made) == 1 else ""),
    )


def _as_fractions(text: str) -> list[str]:
    if match := ISO_DAY.fullmatch(text):
        month, day = int(match[2]), int(match[3])
        return [f"{month}/{day}", f"{day}/{month}", f"{day}-{month}/4", f"{month}-{day}/4"]
    if (match := SHOWN_DAY.fullmatch(text)) and match[1]:
        month = int(numbered("month").get(fold(match[2]), 0))
        return [f"{month}/{int(match[1])}", f"{int(match[1])}/{month}"]
    return []
