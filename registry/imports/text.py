"""Typed text -> one spelling for comparison, and the marks that a cell of a workbook carries.

A workbook knows of its cells whether they hold a number or a day; a CSV file does not. The first
character of a cell keeps that knowledge, so that a row stays a plain list of texts.
"""

import re
import unicodedata
from functools import lru_cache

from registry.proof.cells import safe_cell

NUMBER, DAY, ERROR = "\x01", "\x02", "\x03"
MARKS = (NUMBER, DAY, ERROR)

LETTERS = str.maketrans(
    {
        "ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "å": "a", "ł": "l", "đ": "d", "þ": "th",
        "ð": "d", "ı": "i", "₂": "2", "²": "2", "³": "3", "&": " ", "#": " ", "_": " ",
        "'": "", "’": "", "‘": "", "´": "", "`": "",
    }
)  # fmt: skip
SPELT_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ø": "oe", "å": "aa"})
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\u200b-\u200f\ufeff]")


def plain(cell: str) -> str:
    """The cell as a person sees it."""
    return cell[1:] if cell[:1] in MARKS and cell else cell


def harmless(text: str) -> str:
    """As a cell of a file that we hand out: no spreadsheet program takes it for a formula. A dash
    alone, which registers write for nothing, is none."""
    return str(safe_cell(text)) if len(text) > 1 else text


def as_typed(text: str) -> str:
    """The same cell when it comes back."""
    return text[1:] if text[:1] == "'" and harmless(text[1:]) == text else text


def without_control(text: str) -> str:
    return CONTROL.sub("", text)


@lru_cache(maxsize=65_536)
def fold(text: str) -> str:
    """Lower case, no accents, words parted by single blanks: “Länge (m)” is “lange m”."""
    text = unicodedata.normalize("NFKD", text.casefold().translate(LETTERS))
    bare = "".join(c for c in text if not unicodedata.combining(c))
    return re.sub(r"\W+", " ", bare).strip()


def spellings(word: str) -> set[str]:
    """As a keyboard with and without the accents of a word would type it."""
    return {fold(word), fold(word.casefold().translate(SPELT_OUT))}
