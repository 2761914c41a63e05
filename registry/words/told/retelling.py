"""Finds the sentences of the book in what was kept, and tells them in the language of the reader.

What is kept stays as it is. A text that no sentence fits is shown as it was kept, in English: a
translation that is half right is worse than none.
"""

import re
from datetime import datetime
from functools import lru_cache

from django.utils.functional import lazy
from django.utils.translation import get_language, gettext, override, pgettext

from registry.words.spoken import language, numeral, written
from registry.words.told.sentences import SENTENCES

DAY = re.compile(
    r"\b(\d{1,2} (?:January|February|March|April|May|June|July|August|September|October|November"
    r"|December) \d{4})\b"
)
NUMBER = re.compile(r"(?<![\w.])\d[\d,]*\.\d+(?![\w.]*\.\d)")
PLACE = re.compile(r"\\{(\w+)\\}")
BETWEEN_SENTENCES = re.compile(r"(?<=[.!?])[ \n]+(?=[A-Z“0-9])")
PARTS = re.compile(r"([;,:] |\n+)")
NUMERAL = r"[<>]?[\d.,]+"
HOLDS = {
    "day": r"\d{1,2} \w+ \d{4}(?:, \d\d:\d\d)?",
    "days": r"\d+ \w+|\w+ (?:day|month|year)",
} | dict.fromkeys(
    ("n2", "share", "count", "number", "points", "seconds", "first", "year", "wall", "error"),
    NUMERAL,
)
"""What stands in a place by its name; in any other place there may be anything."""
DEEPEST = 4
KEPT = 20_000


def retold(text: object) -> str:
    """In the reader's language; in English the text itself."""
    kept = str(text or "")
    if language() == "en" or not kept:
        return kept
    return _retold(kept, get_language() or "en", 0)


@lru_cache(KEPT)
def _retold(text: str, code: str, depth: int) -> str:
    """By its sentences, else by the whole, else by the parts between commas."""
    sentences = BETWEEN_SENTENCES.split(text)
    if depth < DEEPEST and len(sentences) > 1:
        told = [_whole(sentence, code, depth) for sentence in sentences]
        whole = None if all(told) else _whole(text, code, depth)
        if whole is not None:
            return whole
        gaps = [*BETWEEN_SENTENCES.findall(text), ""]
        pairs = zip(told, sentences, strict=True)
        said = [known or _retold(sentence, code, depth + 1) for known, sentence in pairs]
        return "".join(part + gap for part, gap in zip(said, gaps, strict=True))
    if (found := _whole(text, code, depth)) is not None:
        return found
    pieces = PARTS.split(text)
    if len(pieces) == 1 or depth >= DEEPEST:
        return _values(text)
    return "".join(_retold(piece, code, DEEPEST) for piece in pieces)


def _whole(text: str, code: str, depth: int) -> str | None:
    exact, patterns = _sentences()
    if text in exact:
        return pgettext("told", text)
    if text[:1].isalpha() and (found := gettext(text)) != text:
        return found  # the label of a kind, a choice
    for pattern, sentence in patterns if depth <= DEEPEST else ():
        if match := pattern.fullmatch(text):
            said = {
                name: _retold(value, code, depth + 1) for name, value in match.groupdict().items()
            }
            return pgettext("told", sentence).format(**said)
    return None


@lru_cache(1)
def _sentences() -> tuple[frozenset[str], list[tuple[re.Pattern[str], str]]]:
    """As they are written in English; those with most words of their own are tried first."""
    with override("en"):
        texts = [str(sentence) for sentence in SENTENCES]
    plain = frozenset(text for text in texts if "{" not in text)
    open_ones = sorted((text for text in texts if "{" in text), key=_own_words, reverse=True)
    return plain, [(_pattern(text), text) for text in open_ones]


def _own_words(text: str) -> int:
    return len(re.sub(r"\{\w+\}", "", text))


def _pattern(text: str) -> re.Pattern[str]:
    places = PLACE.sub(
        lambda found: f"(?P<{found[1]}>{HOLDS.get(found[1], '.+?')})", re.escape(text)
    )
    return re.compile(places, re.S)


def _values(text: str) -> str:
    """Days and decimals of a text that is no sentence of the book: names and what people wrote
    hold neither in these forms often enough to matter, and digits stay the same digits."""
    told = DAY.sub(lambda found: _day(found[1]), text)
    return NUMBER.sub(lambda found: numeral(found[0]), told)


def _day(text: str) -> str:
    return written(datetime.strptime(text, "%d %B %Y"), "%-d %B %Y")


retold_later = lazy(retold, str)
"""For choices and labels that are made before there is a reader."""
