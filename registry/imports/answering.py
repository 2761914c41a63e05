"""Answers given by the names of their questions -> the answers of a file."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from registry.imports.answers import Answers

WHOLE = ("sheet", "decimal", "date_order", "length_unit", "blanks_above", "same_tags",
         "leaks_known_since", "adopted_edition", "similar")  # fmt: skip


def with_answers(answers: Answers, given: Mapping[str, str]) -> Answers:
    """What is left empty stays as it was answered before."""
    changed: dict[str, Any] = {
        "columns": dict(answers.columns), "words": dict(answers.words),
        "blank": dict(answers.blank), "units": dict(answers.units),
        "choices": dict(answers.choices),
    }  # fmt: skip
    for name, value in given.items():
        sort, _, rest = name.partition(":")
        if sort == "column":
            changed["columns"][rest] = value
        elif not value:
            continue
        elif name in WHOLE:
            changed[name] = value
        elif name == "header_row":
            changed[name] = int(value)
        elif sort == "missing":
            _say_of_missing(rest, value, changed)
        elif sort in ("word", "blank", "unit"):
            changed[{"word": "words", "blank": "blank", "unit": "units"}[sort]][rest] = value
        else:
            changed["choices"][name] = value
    if changed.get("sheet", answers.sheet) != answers.sheet:
        changed["header_row"] = None  # it was of another sheet
    return replace(answers, **changed)


def _say_of_missing(name: str, value: str, changed: dict[str, Any]) -> None:
    """A column of the file, or one value for every row."""
    sort, _, rest = value.partition(":")
    if sort == "column":
        changed["columns"][rest] = name
    else:
        changed["blank"][name] = rest if sort == "all" else value


def given_before(answers: Answers, name: str) -> str:
    """How a question was answered, as the form shows it."""
    sort, _, rest = name.partition(":")
    kept = {"word": answers.words, "blank": answers.blank, "column": answers.columns}
    if sort in kept:
        return kept[sort].get(rest, "")
    if sort == "unit":
        return answers.units.get(rest, "")
    if sort == "missing":
        return answers.blank.get(rest, "")
    if name in WHOLE:
        return getattr(answers, name) or ""
    return answers.choices.get(name, "")
