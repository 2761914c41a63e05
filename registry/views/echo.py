from math import isfinite

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.html import escape
from django.utils.translation import gettext

from registry.fields import QuantityField, QuantityInput
from registry.quantities import DIMENSIONS, STANDARD_ATMOSPHERE_PA


def echo(request: HttpRequest) -> HttpResponse:
    """What is understood of a quantity while it is typed; empty until it can be read."""
    dimension = request.GET.get("dimension", "")
    if dimension and dimension not in DIMENSIONS:
        raise Http404(gettext("No such dimension."))
    typed = _typed(request)
    understood = _field(request, dimension).echo(typed) if dimension and typed else ""
    return HttpResponse(escape(f"= {understood}") if understood else "")


def _typed(request: HttpRequest) -> str:
    """As a form reads it: with the unit chosen beside the number."""
    name = request.GET.get("name", "")
    asked = QuantityInput()
    asked.units = (request.GET.get(f"{name}_unit", ""),)
    return str(asked.value_from_datadict(request.GET, {}, name) or "")


def _field(request: HttpRequest, dimension: str) -> QuantityField:
    field = QuantityField(
        dimension=dimension,
        units=getattr(request.user, "display_units", "us"),
        default_unit=request.GET.get("unit") or None,
        atmosphere_pa=_number(request.GET.get("atmosphere_pa"), STANDARD_ATMOSPHERE_PA),
    )
    field.is_nitrogen = "nitrogen" in request.GET
    return field


def _number(text: str | None, otherwise: float) -> float:
    try:
        number = float(text or otherwise)
    except ValueError:
        return otherwise
    return number if isfinite(number) else otherwise
