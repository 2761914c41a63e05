"""Codes that a sheet beside the table explains: “V” is wet pipe because the file says so."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from django.utils.translation import gettext

from registry.imports.answers import Answers, word_key
from registry.imports.cells import LABELS, known_word
from registry.imports.layout import Layout, texts_of
from registry.imports.reading import Book

LOOKED_AT = 300  # rows of a sheet
LONGEST_CODE = 12
ENOUGH = 3  # codes that mean something to the book, for a sheet to be taken for a list of codes
FIELDS = ("kind", "role", "material")


def with_legend(answers: Answers, book: Book, layout: Layout) -> tuple[Answers, list[str]]:
    """What a person answered goes before; each code that is taken is named in a notice."""
    words: dict[str, str] = {}
    found: list[str] = []
    for name, _ in layout.others:
        told = _told(book, name)
        if len({code for code, _, _ in told}) < ENOUGH:
            continue
        said = []
        for code, field, meaning in told:
            words[word_key(field, code)] = meaning
            label = LABELS[field][meaning]
            said.append(f"“{code}” is {label if label.isupper() else label.lower()}")
        found.append(
            gettext("The sheet “%(name)s” says what codes mean: %(listed)s.")
            % {"name": name, "listed": ", ".join(said)}
        )
    return replace(answers, words=words | answers.words), found


def _told(book: Book, name: str) -> list[tuple[str, str, str]]:
    """Code, field and meaning; a code that is explained twice in two ways is left out."""
    meanings: dict[tuple[str, str], set[str]] = {}
    for code, text in _pairs(book, name):
        for field in FIELDS:
            if meaning := known_word(field, text):
                meanings.setdefault((code, field), set()).add(meaning)
    return [
        (code, field, next(iter(each)))
        for (code, field), each in meanings.items()
        if len(each) == 1
    ]


def _pairs(book: Book, name: str) -> Iterator[tuple[str, str]]:
    sheet = book.sheet(name)
    for row in islice(sheet.rows(), LOOKED_AT) if sheet else ():
        texts = texts_of(row)
        if len(texts) == 2 and len(texts[0]) <= LONGEST_CODE:
            yield texts[0], texts[1]
