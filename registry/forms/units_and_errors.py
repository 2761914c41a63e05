"""Forms that speak the person's units, and that show at the field what a service refused."""

from collections.abc import Callable
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from registry.apps import UNANSWERED, UNCHOSEN
from registry.fields import QuantityField, use_units
from registry.kinds import DetailsError
from registry.models import Site, User
from registry.quantities import DIMENSIONS
from registry.services.ledger import SentBefore


def speak(form: forms.BaseForm, user: User, site: Site | None = None) -> None:
    """A bare number is read in the unit printed in the field; a time span has no usual unit."""
    use_units(form, user, atmosphere_pa=site.atmosphere_pa if site else None)
    for field in form.fields.values():
        field.error_messages["required"] = _wanted(field)
        if isinstance(field, QuantityField) and field.dimension == "duration":
            field.widget.attrs.pop("data-unit")
        elif isinstance(field, QuantityField):
            field.default_unit = DIMENSIONS[field.dimension].shown[field.units][0].symbol


def _wanted(field: forms.Field) -> str:
    if isinstance(field, forms.ChoiceField):
        return UNCHOSEN
    example = field.widget.attrs.get("placeholder", "")
    return f"{UNANSWERED[:-1]}: {example}." if example else UNANSWERED


def untouched(form: forms.BaseForm) -> dict[str, Any]:
    """The quantities nobody changed, with the digits that their fields do not show."""
    return {
        name: form.initial[name]
        for name, field in form.fields.items()
        if isinstance(field, QuantityField)
        and name in form.initial
        and name not in form.changed_data
    }


def attempt(form: forms.BaseForm, write: Callable[..., Any], **facts: Any) -> Any:
    """What the service returned, or None with its refusal at the fields it is about."""
    try:
        return write(**facts)
    except SentBefore as error:
        _renew_key(form)
        show_problems(form, error.problems)
    except DetailsError as error:
        show_problems(form, error.problems)
    except ValidationError as error:
        show_problems(form, getattr(error, "error_dict", {"": error}))
    return None


def _renew_key(form: forms.BaseForm) -> None:
    """Sent once more, what is on the page is another record."""
    data = cast(QueryDict, form.data).copy()
    data["client_key"] = str(uuid4())
    form.data = data


def show_problems(form: forms.BaseForm, problems: dict[str, Any]) -> None:
    for name, problem in problems.items():
        form.add_error(name if name in form.fields else None, problem)
