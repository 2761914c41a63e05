"""Every number field of every form reads what is typed by the one rule of comma and point.

A field of `type="number"` leaves the reading to the browser: one that speaks English drops the
comma of a Spanish “1,125” and sends 1125. So the field is one of text with the keys for numbers,
and the book itself reads it.
"""

from collections.abc import Callable
from typing import Any

from django import forms
from django.utils.translation import gettext

from registry.fields import OpenNumber
from registry.quantities.numerals import NumberError, TwoReadingsError, tidy, with_point
from registry.words.spoken import numeral


class NumberText(forms.TextInput):
    def __init__(self, attrs: dict[str, Any] | None = None):
        super().__init__({"inputmode": "decimal", "autocomplete": "off"} | (attrs or {}))

    def format_value(self, value: Any) -> str | None:
        """What the book knows with the reader's decimal sign; what was typed as it was."""
        text = super().format_value(value)
        return text if text is None or isinstance(value, str) else numeral(text)


def read_every_number_field() -> None:
    """Once, when the program starts: a form that is written later cannot forget it."""
    if forms.IntegerField.widget is NumberText:
        return
    forms.IntegerField.widget = NumberText
    for kind in (forms.IntegerField, forms.FloatField, forms.DecimalField):
        kind.to_python = _reading(kind.to_python)  # type: ignore[method-assign]


def _reading(to_python: Callable[..., Any]) -> Callable[..., Any]:
    def read(field: forms.Field, value: Any) -> Any:
        return to_python(field, _with_point(field, value) if isinstance(value, str) else value)

    return read


def _with_point(field: forms.Field, typed: str) -> str:
    """As Django reads it; what is no number goes on as it is, and Django says so."""
    try:
        return with_point(tidy(typed))
    except TwoReadingsError as error:
        if not isinstance(field, forms.FloatField | forms.DecimalField):
            return error.readings[0]  # a whole number has no decimals, so there is one reading
        raise OpenNumber(
            gettext("“{typed}”: {wrong}. {right}").format(
                typed=typed.strip(), wrong=error, right=error.right
            ),
            error.readings,
        ) from None
    except NumberError:
        return typed
