"""What the shared components need to know about a form field, a table or the page they stand on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Any, cast
from urllib.parse import urlencode

from django import template
from django.forms import BoundField, CheckboxInput, Form, RadioSelect
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext_lazy as _
from django_tables2 import Table

from registry.access import managed_owners
from registry.fields import QuantityField, QuantityInput
from registry.models import User
from registry.pages.cautions import CAUTIONS

register = template.Library()

MAIN = (
    ("reports:portfolio", _("Portfolio")),
    ("scheduling:work", _("My work")),
    ("scheduling:due", _("Recurring")),
    ("reports:audit", _("Ledger")),
    ("scheduling:feeds", _("Feeds")),
)
KEEPER = (("registry:import-new", _("Import")),)
UNIT_LABELS = {
    "nitrogen": _("The meter shows"),
    "pressure": _("Unit of the pressure"),
    "temperature": _("Unit of the temperature"),
    "wall": _("Unit of the thickness"),
}
SHORT_ANSWER = 10
SHORT_ANSWERS = 4


@dataclass(frozen=True)
class MainLink:
    address: str
    words: str
    is_here: bool


@register.simple_tag(takes_context=True)
def main_links(context: template.Context) -> list[MainLink]:
    """The main navigation for this person, with the part of the book that the page is in."""
    request = context["request"]
    offered = [*MAIN, *(KEEPER if keeps_a_register(request.user) else ())]
    links = [(reverse(view_name), words) for view_name, words in offered]
    within = [address for address, _ in links if _is_in(request.path, address)]
    here = max(within, key=len, default=None)
    return [MainLink(address, words, address == here) for address, words in links]


def _is_in(path: str, address: str) -> bool:
    return path == address or (address != "/" and path.startswith(address))


@register.filter
def get(found: Mapping[str, Any], key: str) -> Any:
    """The entry of a mapping under a key that only the page knows."""
    return found.get(key)


@register.filter
def keeps_a_register(user: User) -> bool:
    return managed_owners(user).exists()


@register.inclusion_tag("registry/_cautions.html")
def cautions(*names: str | Iterable[str]) -> dict[str, Any]:
    """The usual cautions in the order given: {% cautions "draining" kind.cautions %}."""
    flat = dict.fromkeys(chain.from_iterable([n] if isinstance(n, str) else n for n in names))
    return {
        "cautions": [CAUTIONS[name] for name in flat],
        "heading_id": f"cautions-{'-'.join(flat)}",
    }


@register.simple_tag
def error_count(form: Form) -> int:
    return sum(len(errors) for errors in form.errors.values())


@register.simple_tag
def table_id(table: Table) -> str:
    return f"{table.prefix or ''}table".replace("_", "-")


@register.filter
def layout(field: BoundField) -> str:
    """How a field is drawn: "tick", "choices", "choices short" or "line"."""
    widget = field.field.widget
    if isinstance(widget, CheckboxInput):
        return "tick"
    if not isinstance(widget, RadioSelect):
        return "line"
    words = [str(label) for _, label in widget.choices]
    is_short = len(words) <= SHORT_ANSWERS and all(len(word) <= SHORT_ANSWER for word in words)
    return "choices short" if is_short else "choices"


@register.filter
def first_id(field: BoundField) -> str:
    """Where a link in the error summary lands: the first control, also in a group of them."""
    return f"{field.auto_id}_0" if field.use_fieldset else field.id_for_label


@register.filter
def unit(field: BoundField) -> str:
    return str(field.field.widget.attrs.get("data-unit", ""))


@register.filter
def echo(field: BoundField) -> str:
    """What the book understood of a typed quantity, when the field can say so."""
    say = getattr(field.field, "echo", None)
    return str(say(field.value())) if say and field.value() else ""


@register.filter
def unit_choices(field: BoundField) -> list[tuple[str, bool]]:
    """The units to choose from beside a number, and which is chosen."""
    widget = field.field.widget
    if not isinstance(widget, QuantityInput):
        return []
    chosen = widget.unit_of(field.value())
    return [(unit, unit == chosen) for unit in widget.units]


@register.filter
def unit_label(field: BoundField) -> str:
    """What the choice beside a number asks, for those who do not see where it stands."""
    quantity = cast(QuantityField, field.field)
    return str(UNIT_LABELS["nitrogen" if quantity.is_nitrogen else quantity.dimension])


@register.simple_tag
def echo_source(field: BoundField) -> str:
    """Attributes that let the echo of a quantity follow the typing."""
    quantity = cast(QuantityField, field.field)
    asks = {
        "dimension": quantity.dimension,
        "unit": quantity.default_unit or "",
        "atmosphere_pa": quantity.atmosphere_pa,
        "name": field.html_name,
    }
    if quantity.is_nitrogen:
        asks["nitrogen"] = 1
    return format_html(
        'hx-get="{}?{}" hx-include="#{id}, #{id}_unit" '
        'hx-trigger="input delay:400ms from:#{id}{}" '
        'hx-target="this" hx-swap="innerHTML" hx-select="unset"',
        reverse("registry:echo"),
        urlencode(asks),
        f", change from:#{field.id_for_label}_unit" if unit_choices(field) else "",
        id=field.id_for_label,
    )
