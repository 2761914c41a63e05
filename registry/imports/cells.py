"""Single cells: words of the trade in ten languages, names, and what stands for an empty cell."""

import re
from collections.abc import Mapping
from functools import lru_cache

from django.db.models import TextChoices
from django.utils.translation import gettext

from registry.imports.answers import word_key
from registry.imports.columns import match_heading
from registry.imports.problems import CellError, LeftOut
from registry.imports.text import DAY, ERROR, NUMBER, fold, plain
from registry.imports.vocabulary import (
    ASK,
    LEAVE_OUT,
    Ask,
    any_order,
    asks,
    in_any_order,
    is_mark,
    words,
)
from registry.models import PipeRun, System
from registry.translation import _

NO_NITROGEN, SOME_NITROGEN = "no_nitrogen", "some_nitrogen"


def _stored(choices: type[TextChoices]) -> tuple[tuple[str, str], ...]:
    """Labels as the outcome of a reading keeps them: stored texts are English."""
    return tuple((value, str(label)) for value, label in choices.choices)


CHOICES: dict[str, tuple[tuple[str, str], ...]] = {
    "kind": _stored(System.Kind),
    "hazard": _stored(System.Hazard),
    "role": _stored(PipeRun.Role),
    "material": _stored(PipeRun.Material),
    "joint": _stored(PipeRun.Joint),
    "gas_supply": (
        *_stored(System.GasSupply),
        (NO_NITROGEN, _("No nitrogen")),
        (SOME_NITROGEN, _("Nitrogen, supply not said")),
    ),
}
LABELS = {field: dict(choices) for field, choices in CHOICES.items()}
WORDS = ("kind", "hazard", "role", "material", "joint", "gas_supply")
MAY_BE_EMPTY = {"hazard": "unknown", "joint": "unknown", "gas_supply": "unknown"}
KNOWN = {
    "kind": ", ".join(kind.label.lower() for kind in System.Kind),
    "hazard": _("light, OH1, OH2, EH1, EH2, storage"),
    "role": ", ".join(role.label.lower() for role in PipeRun.Role),
    "material": _("black steel, galvanized steel, stainless steel, copper, CPVC"),
    "joint": _("threaded, roll grooved, cut grooved, welded"),
    "gas_supply": _("none, cylinders, generator, compressor"),
}
DAY_OF_MONTH = re.compile(r"\d{1,2}-[A-Z][a-z]{2}(?:-\d{2})?|[A-Z][a-z]{2}-\d{2}")
ISO_MIDNIGHT = re.compile(r"\d{4}-\d{2}-\d{2} 00:00(?::00)?")


@lru_cache(maxsize=16_384)
def is_empty(typed: str) -> bool:
    """Nothing, a dash, “n/a”, “TBC”, or an error that a formula left."""
    text = plain(typed).strip()
    if not text or typed[:1] == ERROR:
        return True
    return any(is_mark(name, text) for name in ("unknown", "not_applicable", "error"))


def is_known(field: str, typed: str) -> bool:
    """“None” and “missing” are empty cells in most columns, and an answer in some."""
    return field in WORDS and fold(plain(typed)) in words(field)


def says_something(field: str, typed: str) -> bool:
    """Whether this is a word of the field, also one with two meanings, in any language."""
    return bool(_known_code(field, plain(typed), frozenset()))


def known_word(field: str, typed: str) -> str:
    """The code for a word that leaves nothing open, else nothing."""
    code = _known_code(field, plain(typed), frozenset())
    return "" if code.startswith(ASK) else code


@lru_cache(maxsize=4096)
def tag_in_line(line: str) -> str:
    """The system that a line above its rows names: “Installation 3 - Dry”, “System: DP-01”.

    Nothing where the line does not say by a label, or by the kind beside it, that it names one.
    """
    label, sign, value = line.partition(":")
    is_labelled = bool(sign) and match_heading(label).name == "tag"
    parts = [part.strip() for part in BETWEEN.split(value if is_labelled else line)]
    rest = [part for part in parts if part and not known_word("kind", part)]
    if not rest or not (is_labelled or len(rest) == len(parts) - 1):
        return ""
    return (rest[0] if is_labelled else " - ".join(rest))[:60]


class UnknownWord(CellError):
    """A person can say what the word means; `ask` holds why and what is possible."""

    def __init__(self, wrong: str, right: str, ask: Ask | None = None, code: str = ""):
        super().__init__(wrong, right)
        self.ask = ask
        self.code = code  # words with one code are one question


def read_word(
    field: str,
    typed: str,
    *,
    chosen: Mapping[str, str] | None = None,
    languages: frozenset[str] = frozenset(),
) -> str:
    """The book's code for a word of the trade. LeftOut where a person said that rows with this
    word are no pipe of the book; UnknownWord names the words that are known."""
    text = plain(typed)
    if field in MAY_BE_EMPTY and is_empty(text) and not is_known(field, text):
        return MAY_BE_EMPTY[field]
    chosen = chosen or {}
    if answer := chosen.get(word_key(field, text)):
        return chosen_code(field, answer, text)
    code = _known_code(field, text, languages)
    if code.startswith(ASK) and (answer := chosen.get(f"{field}:{code}")):
        return chosen_code(field, answer, text)
    if code and not code.startswith(ASK):
        return code
    if not text.strip():
        raise CellError(
            gettext("nothing is written here"),
            (gettext("Write one of: %(known)s.") % {"known": KNOWN[field]}),
        )
    raise _unknown(field, text, code)


def chosen_code(field: str, answer: str, typed: str) -> str:
    if answer == LEAVE_OUT:
        raise LeftOut(f"“{typed}”")
    if field not in LABELS or answer in LABELS[field]:
        return answer
    code = _known_code(field, answer, frozenset())
    if not code or code.startswith(ASK):
        raise CellError(
            (gettext("“%(answer)s” was given for it, which is not known") % {"answer": answer}),
            (gettext("Write one of: %(known)s.") % {"known": KNOWN[field]}),
        )
    return code


def _known_code(field: str, text: str, languages: frozenset[str]) -> str:
    return _whole_code(field, text, languages) or _within(field, text, languages)


def _whole_code(field: str, text: str, languages: frozenset[str]) -> str:
    folded = fold(text)
    if folded in asks(field) and not _is_settled(field, folded, languages):
        return ASK + folded
    meaning = words(field).get(folded) or in_any_order(field).get(any_order(folded))
    if meaning is None:
        return ""
    codes = meaning.in_languages(languages)
    return next(iter(codes)) if len(codes) == 1 else ASK + folded


IN_BRACKETS = re.compile(r"(?P<before>[^()]+)\((?P<inside>[^()]+)\)\s*")
BETWEEN = re.compile(r"\s+[-–—|]\s+")  # “North hall - System 3 - dry”, the line above a block
MEASURE = re.compile(r"(?P<word>.*[^\W\d].*?)[\s,]+\d+(?:[.,]\d+)?\s*mm\.?")
# “Without” in the languages of the files: what follows is not in the pipe.
WITHOUT = {"no", "not", "without", "non", "ohne", "kein", "keine", "sans", "pas", "sin", "senza",
           "utan", "uten", "uden", "ilman", "zonder", "geen"}  # fmt: skip


def _within(field: str, text: str, languages: frozenset[str]) -> str:
    """“Range pipe (branch)”, “black steel 3.2 mm”, “wet with glycol”: words that hold a known one.

    What stands in brackets says the same in other words; where both are known they must agree.
    """
    if match := MEASURE.fullmatch(text.strip()):
        return _whole_code(field, match["word"], languages)
    if WITHOUT & set(fold(text).split(" ")):
        return ""
    if field == "kind" and len(parts := BETWEEN.split(text)) > 1:
        codes = {_known_code(field, part, languages) for part in parts if len(part) > 2} - {""}
        return codes.pop() if len(codes) == 1 else ""
    if field == "kind" and _is_wet_with_antifreeze(text, languages):
        return "antifreeze"
    if match := IN_BRACKETS.fullmatch(text.strip()):
        codes = {_whole_code(field, part, languages) for part in match.groups()} - {""}
        plainly = {code for code in codes if not code.startswith(ASK)}
        if len(plainly) == 1:
            return plainly.pop()
    return ""


def _is_wet_with_antifreeze(text: str, languages: frozenset[str]) -> bool:
    """An antifreeze system is a wet one, so the two words together are no contradiction."""
    parts = fold(text).split(" ")
    found = {_whole_code("kind", part, languages) for part in parts if len(part) > 2}
    return found - {""} == {"wet", "antifreeze"}


ELSEWHERE = {("material", "ss"): "it", ("material", "gs"): "de"}  # means two things in this one


def _is_settled(field: str, folded: str, languages: frozenset[str]) -> bool:
    doubted = ELSEWHERE.get((field, folded))
    return doubted is not None and doubted not in languages


def _unknown(field: str, text: str, code: str) -> UnknownWord:
    ask = asks(field).get(code) or asks(field).get(code.removeprefix(ASK))
    if ask:
        labels = [LABELS[field].get(option, "") for option in ask.options]
        named = " or ".join(label.lower() for label in labels if label)
        wrong = ask.why[:1].lower() + ask.why[1:].rstrip(".")
        right = (
            gettext("Write %(named)s.") % {"named": named}
            if named
            else gettext("Leave these rows out, or say what else they are.")
        )
        return UnknownWord(wrong, right, ask, code if code in asks(field) else "")
    near = nearest(field, text)
    ask = Ask("", (near,), near) if near else None
    return UnknownWord(
        gettext("this word is not known"),
        (gettext("Write one of: %(known)s.") % {"known": KNOWN[field]}),
        ask,
    )


@lru_cache(maxsize=4096)
def nearest(field: str, text: str) -> str:
    """What the longest known words inside this text mean, when they agree: a proposal at most."""
    parts = fold(text).split(" ")
    for length in range(len(parts) - 1, 0, -1):
        codes = set()
        for at in range(len(parts) - length + 1):
            known = " ".join(parts[at : at + length])
            meaning = words(field).get(known) if len(known) > 2 else None
            codes |= set(meaning.codes) if meaning else set()
        codes = {code for code in codes if not code.startswith(ASK)}
        if codes:
            return codes.pop() if len(codes) == 1 else ""
    return ""


def read_name(typed: str, *, limit: int) -> str:
    name = re.sub(r"\s+", " ", plain(typed)).strip()
    if not name:
        raise CellError(
            gettext("nothing is written here"), gettext("Write the name this is known by.")
        )
    if len(name) > limit:
        raise CellError(
            (gettext("it has %(count)s characters") % {"count": len(name)}),
            (gettext("Write it in at most %(limit)s.") % {"limit": limit}),
        )
    return name


def read_tag(typed: str, *, limit: int, chosen: Mapping[str, str]) -> str:
    """A tag such as MAR-1 becomes a day as soon as a spreadsheet program sees it."""
    name = read_name(typed, limit=limit)
    if answer := chosen.get(word_key("tag", name)):
        return chosen_code("tag", answer, name)
    if typed[:1] == DAY or ISO_MIDNIGHT.fullmatch(name) or DAY_OF_MONTH.fullmatch(name):
        raise UnknownWord(
            gettext("a spreadsheet program made a date of this tag"),
            gettext("Write the tag as it stands on the valve."),
            Ask("", (), ""),
        )
    return name.removesuffix(".0") if typed[:1] == NUMBER else name
