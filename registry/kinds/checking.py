"""Whether details are what their kind may hold."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from registry.kinds.parts import ON_ANY_RECORD, Field, Kind
from registry.translation import _


class DetailsError(ValueError):
    """Details that a kind cannot hold.

    `problems` maps the field to what is wrong and what would be right.
    """

    def __init__(self, problems: Mapping[str, str]):
        self.problems = dict(problems)
        super().__init__("; ".join(f"{name}: {problem}" for name, problem in problems.items()))


def _problem(field: Field, value: Any) -> str | None:
    if field.type in ("choice", "tri"):
        allowed = [code for code, _label in field.choices]
        return None if value in allowed else f"“{value}” is not one of {', '.join(allowed)}."
    if field.type in ("quantity", "percent", "number", "integer"):
        return _number_problem(field, value)
    if field.type == "date":
        return _date_problem(value)
    return None if isinstance(value, str) else f"{value!r} is not text."


def _number_problem(field: Field, value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
        return f"{value!r} is not a number."
    if field.type == "integer" and not isinstance(value, int):
        return f"{value!r} is not a whole number."
    if field.low is not None and value < field.low:
        return f"{value:g} is below {field.low:g}, the least that is possible."
    if value > (field.high if field.high is not None else 1e12):
        return f"{value:g} is above {field.high or 1e12:g}, the most that is possible."
    return None


def _date_problem(value: Any) -> str | None:
    try:
        date.fromisoformat(value)
    except (TypeError, ValueError):
        return f"“{value}” is not a day; write it as year-month-day, for example 2026-06-30."
    return None


def answered(details: Mapping[str, Any]) -> dict[str, Any]:
    """The details without empty answers."""
    return {name: value for name, value in details.items() if value not in (None, "")}


def check_details(kind: Kind, details: Mapping[str, Any]) -> dict[str, Any]:
    """The details without empty answers; raises DetailsError naming each field that is wrong."""
    given = answered(details)
    if kind.group == "register" and not kind.fields:
        return given
    problems = {
        name: f"{kind.label} has no such field; it has {', '.join(_names(kind.fields)) or 'none'}."
        for name in given
        if kind.field(name) is None
    }
    fields = {field.name: field for field in (*kind.fields, *ON_ANY_RECORD)}
    for field in fields.values():
        if field.name not in given:
            if field.is_required:
                problems[field.name] = f"{field.label}: needed for {kind.label.lower()}."
        elif problem := _problem(field, given[field.name]):
            problems[field.name] = problem
    if kind.needs_one_of and not problems and given.keys().isdisjoint(kind.needs_one_of):
        problems[kind.needs_one_of[0]] = str(_("Nothing is answered: answer one of the questions."))
    if problems:
        raise DetailsError(problems)
    return given


def _names(fields: Iterable[Field]) -> list[str]:
    return [field.name for field in fields]
