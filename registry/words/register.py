"""Facts of the register in words: what was entered, and what a change changed from what to what."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from django.utils.translation import gettext

from registry.models import Fitting, PipeRun, System
from registry.models.systems import InstalledPrecision, installed_text
from registry.quantities import format_quantity, size_text
from registry.translation import _
from registry.words.answer import Answer
from registry.words.spoken import day_words

ENDINGS = {
    "_gauge_pa": "pressure",
    "_percent": "percent",
    "_m3_s": "gas_flow",
    "_m3": "volume",
    "_mm": "wall",
    "_m": "length",
}
LABELS = {
    "consequence_class": _("Consequence class"),
    "generator_flow_m3_s": _("Sweep of the generator"),
    "leaks_known_since": _("Leaks known since"),
    "service_pressure_gauge_pa": _("Service pressure"),
    "supply_n2_percent": _("Nitrogen of the supply"),
    "volume_override_m3": _("Measured volume"),
    "volume_override_note": _("How the volume was measured"),
}
CHOICES: dict[str, dict[str, str]] = {
    "kind": dict(System.Kind.choices) | dict(Fitting.Kind.choices),
    "hazard": dict(System.Hazard.choices),
    "gas_supply": dict(System.GasSupply.choices),
    "role": dict(PipeRun.Role.choices),
    "material": dict(PipeRun.Material.choices),
    "joint": dict(PipeRun.Joint.choices),
    "wall_basis": dict(PipeRun.WallBasis.choices),
}
PRECISION, DAY = "installed_precision", InstalledPrecision.DAY
SAY_LITTLE = (PRECISION, "wall_basis", "site")
NOT_RECORDED = _("not recorded")
UNKNOWN = (None, "", "unknown")


def register_answers(details: Mapping[str, Any], units: str, *, is_brief: bool) -> Iterator[Answer]:
    """Facts in the order written; `is_brief` passes over those that say nothing by themselves."""
    for name, value in details.items():
        if name == PRECISION or (is_brief and (name in SAY_LITTLE or value in UNKNOWN)):
            continue
        if isinstance(value, Mapping) and not _is_change(value):
            yield _thing_entered(value, units)
        elif _is_change(value) and isinstance(value["to"], Mapping):
            yield _thing_changed(value["from"], value["to"], units)
        elif _is_change(value):
            yield Answer(_label(name), _change(name, _side(details), units), is_sentence=True)
        elif text := fact_text(name, details, units):
            yield Answer(_label(name), text)


def _side(details: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """What a record of changes held before, and what after."""
    changes = {name: value for name, value in details.items() if _is_change(value)}
    before, after = (
        {name: value[side] for name, value in changes.items()} for side in ("from", "to")
    )
    return before, after


def _change(name: str, sides: tuple[Mapping[str, Any], Mapping[str, Any]], units: str) -> str:
    was, now = (
        NOT_RECORDED if side.get(name) in UNKNOWN else fact_text(name, side, units)
        for side in sides
    )
    return gettext("was {was}, is now {now}").format(was=was, now=now)


def _thing_entered(facts: Mapping[str, Any], units: str) -> Answer:
    told = [
        f"{_label(name).lower()} {text}"
        for name in facts
        if name not in ("kind", "label") and (text := fact_text(name, facts, units))
    ]
    return Answer(_thing(facts, units), ", ".join(["entered", *told]))


def _thing_changed(before: Mapping[str, Any], after: Mapping[str, Any], units: str) -> Answer:
    told = [
        f"{_label(name).lower()} {_change(name, (before, after), units)}"
        for name in after
        if after[name] != before.get(name)
    ]
    return Answer(_thing(after, units), "; ".join(told) or gettext("saved without a change"))


def _thing(facts: Mapping[str, Any], units: str) -> str:
    return f"{fact_text('kind', facts, units)} {facts.get('label') or ''}".strip()


def _is_change(value: Any) -> bool:
    return isinstance(value, Mapping) and set(value) == {"from", "to"}


def fact_text(name: str, facts: Mapping[str, Any], units: str) -> str:
    value = facts.get(name)
    if value is None or value == "":
        return ""
    if name == "nominal_size":
        return size_text(value, units)
    dimension = ENDINGS.get(_ending(name))
    if dimension and isinstance(value, int | float):
        return format_quantity(value, dimension, units)
    if name == "installed_on" and facts.get(PRECISION, DAY) != DAY:
        return installed_text(date.fromisoformat(str(value)[:10]), facts[PRECISION])
    if name.endswith("_on"):
        return day_text(value)
    return CHOICES.get(name, {}).get(value, str(value))


def _ending(name: str) -> str:
    return next((ending for ending in ENDINGS if name.endswith(ending)), "")


def _label(name: str) -> str:
    if name in LABELS:
        return LABELS[name]
    words = name.removesuffix(_ending(name)).removesuffix("_on").replace("_", " ")
    return words[:1].upper() + words[1:]


def day_text(value: str) -> str:
    try:
        day = date.fromisoformat(value)
    except ValueError:
        return value
    return day_words(day)
