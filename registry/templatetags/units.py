"""Stored values -> a person's units: {% quantity value "pressure" %}, {{ value|pressure:user }}."""

from functools import partial
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from registry.quantities import DIMENSIONS, format_quantity, shape_quantity, size_text
from registry.translation import _

register = template.Library()

NOT_RECORDED = _("not recorded")


@register.simple_tag(takes_context=True)
def quantity(
    context: template.Context,
    value: float | None,
    dimension: str,
    fixed: bool = False,
    empty: str = NOT_RECORDED,
) -> SafeString:
    """In the units of the person who asks; `fixed` keeps trailing zeros for aligned columns."""
    user = getattr(context.get("request"), "user", None)
    return quantity_html(value, dimension, units_of(user), fixed=fixed, empty=empty)


@register.simple_tag(takes_context=True)
def quantity_text(context: template.Context, value: float, dimension: str) -> str:
    """The same without markup, for titles, labels and attributes."""
    user = getattr(context.get("request"), "user", None)
    return format_quantity(value, dimension, units_of(user))


@register.simple_tag(takes_context=True)
def pipe_size(context: template.Context, size: str) -> str:
    """A nominal size as the person writes it: 1-1/4 in or DN32."""
    return size_text(size, units_of(getattr(context.get("request"), "user", None)))


def units_of(user: Any) -> str:
    return getattr(user, "display_units", None) or "us"


def quantity_html(
    value: Any,
    dimension: str,
    units: str,
    *,
    fixed: bool = False,
    empty: str = NOT_RECORDED,
) -> SafeString:
    if value is None or value == "":
        return format_html('<span class="empty">{}</span>', empty)
    shape = shape_quantity(float(value), dimension, units, fixed=fixed)
    return format_html('{}\u00a0<span class="unit">{}</span>', shape.number, shape.unit)


def _shown_to(value: float | None, user: Any, *, dimension: str) -> SafeString:
    return quantity_html(value, dimension, units_of(user))


for name in DIMENSIONS:
    # “length” as a filter already counts items in Django, so that one is named for what it shows.
    filter_name = {"length": "pipe_length"}.get(name, name)
    register.filter(filter_name, partial(_shown_to, dimension=name))
