"""Number formats of a workbook: which cells hold days, and what a format adds to a number."""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from registry.imports.text import DAY, NUMBER

DAY_FORMATS = {*range(14, 18), 22, *range(27, 32), 36, *range(50, 55), 57, 58}  # ISO/IEC 29500-1
QUOTED = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]|_.|\*.')
DAY_LETTERS = re.compile(r"[ymd]", re.I)
UNIT = re.compile(r'[0#?]\s*(?:"(?P<quoted>[^"]*)"|(?P<escaped>(?:\\.)+))\s*(?:;|$)')
ZEROS = re.compile(r"0{2,12}")

EPOCHS = {False: datetime(1899, 12, 30), True: datetime(1904, 1, 1)}
LAST_SERIAL = 2_958_465  # 9999-12-31


@dataclass(frozen=True)
class NumberFormat:
    is_day: bool = False
    unit: str = ""
    zeros: int = 0  # digits to which whole numbers are filled up: 007


GENERAL = NumberFormat()


def number_format(code: str, number: int) -> NumberFormat:
    if number in DAY_FORMATS:
        return NumberFormat(is_day=True)
    if not code:
        return GENERAL
    if DAY_LETTERS.search(QUOTED.sub("", code)):
        return NumberFormat(is_day=True)
    if ZEROS.fullmatch(code):
        return NumberFormat(zeros=len(code))
    found = UNIT.search(code.split(";")[0])
    if not found:
        return GENERAL
    return NumberFormat(unit=(found["quoted"] or found["escaped"].replace("\\", "")).strip())


def number_text(value: str, shape: NumberFormat, *, is_1904: bool) -> str:
    """A number of a workbook as a marked cell."""
    try:
        number = float(value)
    except ValueError:
        return value
    if shape.is_day:
        return _day_text(number, is_1904) or NUMBER + f"{number:.15g}"
    if shape.zeros and number.is_integer() and number >= 0:
        return f"{int(number):0{shape.zeros}d}"
    text = f"{number:.15g}"
    if "e" in text:
        text = f"{number:.0f}" if abs(number) >= 1 else f"{number:.12f}".rstrip("0")
    return f"{NUMBER}{text} {shape.unit}" if shape.unit else NUMBER + text


def _day_text(serial: float, is_1904: bool) -> str:
    if not 0 <= serial <= LAST_SERIAL:
        return ""
    if serial < 1 and not is_1904:
        return DAY + "1900-01-00"  # an empty cell in the dress of a day
    when = EPOCHS[is_1904] + timedelta(days=serial)
    if serial < 60 and not is_1904:
        when += timedelta(days=1)  # the calendar of spreadsheets has a 29 February 1900
    day = f"{when:%Y-%m-%d}" if when.year >= 1000 else ""
    return DAY + (day if float(serial).is_integer() else f"{day} {when:%H:%M}")
