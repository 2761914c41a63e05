"""A record's answers in words and in a person's units, alike on every page and in every export."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from registry.kinds import Field, Kind
from registry.quantities import format_quantity

ENDINGS = {
    "_gauge_pa": "pressure",
    "_percent": "percent",
    "_m3_s": "gas_flow",
    "_m3": "volume",
    "_mm": "wall",
    "_m": "length",
}
CODES = ("kind", "hazard", "gas_supply", "role", "material", "joint", "wall_basis")
SAY_LITTLE = ("installed_precision", "wall_basis", "site")


@dataclass(frozen=True)
class Answer:
    label: str
    text: str

    @property
    def prompt(self) -> str:
        return self.label if self.label.endswith("?") else f"{self.label}:"

    def __str__(self) -> str:
        return f"{self.prompt} {self.text}"


def answers(
    kind: Kind, details: Mapping[str, Any], units: str = "us", *, is_brief: bool = False
) -> list[Answer]:
    """What was answered, in the order of the form; facts of the register in the order written.

    `is_brief` shortens questions and passes over register facts that say nothing by themselves.
    """
    if not kind.fields:
        told = _telling(details) if is_brief else details
        return list(_register_facts(told, units))
    return [
        Answer(_prompt(field, is_brief), answer_text(field, details[field.name], units))
        for field in kind.fields
        if field.name in details
    ]


def _prompt(field: Field, is_brief: bool) -> str:
    return _label(field.name) if is_brief and field.type == "tri" else field.label


def one_line(kind: Kind, details: Mapping[str, Any], units: str = "us") -> str:
    return "; ".join(map(str, answers(kind, details, units)))


def answer_text(field: Field, value: Any, units: str) -> str:
    if field.type in ("quantity", "percent"):
        return format_quantity(value, field.dimension or "percent", units)
    if field.type in ("choice", "tri"):
        return dict(field.choices).get(value, str(value))
    if field.type == "date":
        return _day(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _telling(details: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: value
        for name, value in details.items()
        if name not in SAY_LITTLE and value != "unknown"
    }


def _register_facts(details: Mapping[str, Any], units: str) -> Iterator[Answer]:
    for name, value in details.items():
        if _is_change(value) and not isinstance(value["to"], Mapping):
            before, after = (_fact(name, value[side], units) for side in ("from", "to"))
            yield Answer(_label(name), f"{before or 'not recorded'} → {after or 'not recorded'}")
        elif _is_change(value):
            yield from _register_facts(_changed_facts(value["from"], value["to"]), units)
        elif isinstance(value, Mapping):
            yield from _register_facts(value, units)
        elif text := _fact(name, value, units):
            yield Answer(_label(name), text)


def _is_change(value: Any) -> bool:
    return isinstance(value, Mapping) and set(value) == {"from", "to"}


def _changed_facts(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """Label and kind name the thing; of the rest only what changed is told."""
    named = {name: after[name] for name in ("kind", "label") if after.get(name)}
    changed = {
        name: {"from": before.get(name), "to": value}
        for name, value in after.items()
        if value != before.get(name)
    }
    return named | changed


def _fact(name: str, value: Any, units: str) -> str:
    if value is None or value == "":
        return ""
    dimension = ENDINGS.get(_ending(name))
    if dimension and isinstance(value, int | float):
        return format_quantity(value, dimension, units)
    if name.endswith("_on"):
        return _day(value)
    if isinstance(value, str) and name in CODES:
        return value.replace("_", " ")
    return str(value)


def _ending(name: str) -> str:
    return next((ending for ending in ENDINGS if name.endswith(ending)), "")


def _label(name: str) -> str:
    words = (
        name.removesuffix(_ending(name))
        .removesuffix("_on")
        .replace("_", " ")
        .replace(" n2", " nitrogen")
    )
    return words[:1].upper() + words[1:]


def _day(value: str) -> str:
    try:
        day = date.fromisoformat(value)
    except ValueError:
        return value
    return f"{day.day} {day:%B %Y}"
