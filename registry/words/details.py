"""A record's answers in words and in a person's units, alike on every page and in every export."""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from registry.kinds import KINDS, Field, Kind
from registry.kinds.parts import FILES, ON_ANY_RECORD
from registry.quantities import format_quantity
from registry.words.answer import Answer
from registry.words.register import day_text, register_answers
from registry.words.spoken import numeral

DIGEST = re.compile(r" [0-9a-f]{64}(?=;|$)")


def answers(
    kind: Kind, details: Mapping[str, Any], units: str = "us", *, is_brief: bool = False
) -> list[Answer]:
    """What was answered, in the order of the form; facts of the register in the order written.

    `is_brief` shortens questions and passes over register facts that say nothing by themselves.
    """
    if not kind.fields:
        return list(register_answers(details, units, is_brief=is_brief))
    return [
        Answer(_prompt(field, is_brief), _told(field, details[name], units, is_brief))
        for name, field in _asked(kind.code).items()
        if name in details and field.type != "pipe_run"  # role and size say which
    ]


@cache
def _asked(kind: str) -> dict[str, Field]:
    """By name, those of the kind first; by its code, as to hash a kind is to translate it."""
    own = {field.name: field for field in KINDS[kind].fields}
    return own | {field.name: field for field in ON_ANY_RECORD if field.name not in own}


def _prompt(field: Field, is_brief: bool) -> str:
    words = field.name.replace("_", " ")
    return words[:1].upper() + words[1:] if is_brief and field.type == "tri" else str(field.label)


def _told(field: Field, value: Any, units: str, is_brief: bool) -> str:
    """Of files the names where it must be short; the record itself shows the digests."""
    if is_brief and field.name == FILES.name:
        return DIGEST.sub("", str(value))
    return answer_text(field, value, units)


def one_line(kind: Kind, details: Mapping[str, Any], units: str = "us") -> str:
    return "; ".join(map(str, answers(kind, details, units)))


def answer_text(field: Field, value: Any, units: str) -> str:
    if field.type in ("quantity", "percent"):
        return format_quantity(value, field.dimension or "percent", units)
    if field.type in ("choice", "tri"):
        return str(dict(field.choices).get(value, value))
    if field.type == "date":
        return day_text(value)
    return numeral(f"{value:g}") if isinstance(value, float) else str(value)
