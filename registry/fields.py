"""Form fields that read quantities the way people type them and hand on the stored unit."""

import re
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from registry.quantities import (
    ABSOLUTE,
    DIMENSIONS,
    STANDARD_ATMOSPHERE_PA,
    OpenQuantityError,
    Quantity,
    QuantityError,
    format_quantity,
    input_text,
    parse_nominal_size,
    parse_quantity,
    unit_text,
)
from registry.quantities.numerals import NumberError, TwoReadingsError, read_number, tidy
from registry.quantities.parsing import write_like
from registry.words.spoken import numeral

BARE = re.compile(r"[+-]?[\d.,/ ]*\d")
UNITS_OFFERED = {
    "pressure": ("psi", "bar", "kPa"),
    "temperature": ("°F", "°C"),
    "wall": ("in", "mm"),
}
NITROGEN_SHOWN, OXYGEN_SHOWN = "% N2", "% O2"
GAS_TYPED = re.compile(r"(?P<number>.*?\d)\s*%?\s*(?P<gas>n2|nitrogen|o2|oxygen)?", re.IGNORECASE)


class QuantityInput(forms.TextInput):
    """A number with a choice of unit beside it, which counts where only a number was typed."""

    units: tuple[str, ...] = ()
    usual = ""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        text, unit = data.get(name), data.get(f"{name}_unit", "")
        is_bare = isinstance(text, str) and BARE.fullmatch(text.strip())
        if not is_bare or unit not in self.units or unit == self.usual:
            return text
        return f"{text.strip()} {unit}"

    def format_value(self, value: Any) -> str | None:
        """The number alone where the choice beside it says the unit."""
        text = super().format_value(value)
        unit = self.unit_of(text)
        return text.removesuffix(unit).strip() if text and unit else text

    def unit_of(self, value: Any) -> str:
        """The unit chosen for this text; empty where it names one that is not among the choices."""
        text = str(value or "").strip()
        if not text or BARE.fullmatch(text):
            return self.usual
        return next(
            (unit for unit in self.units if BARE.fullmatch(text.removesuffix(unit).strip())), ""
        )


class QuantityField(forms.CharField):
    """Cleans to a float in the stored unit of its dimension (Pa gauge, m, m3, K, mm, %...).

    What was typed stays in the field after an error. `atmosphere_pa` turns an absolute pressure
    into gauge; a bare number is read in `default_unit`, and refused when there is none.
    `is_nitrogen`: of a meter that shows oxygen, "0.9 % O2" is 99.1 % nitrogen.
    """

    widget = QuantityInput
    is_nitrogen = False

    def __init__(
        self,
        *,
        dimension: str,
        units: str = "us",
        default_unit: str | None = None,
        minimum: float | None = None,
        maximum: float | None = None,
        atmosphere_pa: float = STANDARD_ATMOSPHERE_PA,
        examples: Mapping[str, str] | None = None,
        **kwargs: Any,
    ):
        super().__init__(**kwargs)
        self.examples = examples or DIMENSIONS[dimension].examples
        self.dimension, self.default_unit = dimension, default_unit
        self.minimum, self.maximum, self.atmosphere_pa = minimum, maximum, atmosphere_pa
        self.units = units

    @property
    def units(self) -> str:
        return self._units

    @units.setter
    def units(self, units: str) -> None:
        self._units = units
        kind = DIMENSIONS[self.dimension]
        self.widget.attrs |= {
            "placeholder": gettext("for example {units}").format(
                units=numeral(self.examples[units])
            ),
            "data-unit": unit_text(self.dimension, kind.shown[units][0].symbol),
            "data-dimension": self.dimension,
            "autocomplete": "off",
        }

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if text is None or text in self.empty_values:
            return None
        try:
            number = self._parse(text)
        except QuantityError as error:
            raise refusal(error) from None
        self._check_limits(number)
        return number

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float) and not isinstance(value, bool):
            text = input_text(value, self.dimension, self.units)
            return text.removesuffix(" %") if self.is_nitrogen else text
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        shown = "" if initial is None else str(self.prepare_value(initial))
        typed = str(data or "").strip()
        widget = self.widget
        told = widget.format_value(shown) if isinstance(widget, forms.Widget) else shown
        return typed not in (shown, told or "")

    def offer_units(self) -> None:
        """Let the unit be chosen beside the number."""
        widget = self.widget
        if not isinstance(widget, QuantityInput):
            return
        if self.is_nitrogen:
            widget.units, widget.usual = (NITROGEN_SHOWN, OXYGEN_SHOWN), NITROGEN_SHOWN
        elif self.dimension in UNITS_OFFERED:
            widget.units, widget.usual = UNITS_OFFERED[self.dimension], self.default_unit or ""
        if widget.units:
            widget.attrs["inputmode"] = "decimal"  # the number alone is typed

    def echo(self, value: Any) -> str:
        """What was understood, in units other than the typed ones; empty while it cannot be read.

        A foreign unit, an absolute pressure or feet with inches come back in the person's own.
        """
        other = "si" if self.units == "us" else "us"
        if isinstance(value, float):
            return self._told(value, other)
        try:
            typed = self._read(str(value))
        except QuantityError:
            return ""
        own_symbols = {shown.symbol for shown in DIMENSIONS[self.dimension].shown[self.units]}
        is_foreign = typed.unit_as_typed not in own_symbols or typed.reference == ABSOLUTE
        return self._show(typed.value_si) if is_foreign else self._told(typed.value_si, other)

    def _told(self, number: float, units: str) -> str:
        told = format_quantity(number, self.dimension, units)
        return "" if told == self._show(number) else told

    def _read(self, text: str) -> Quantity:
        if self.is_nitrogen and (shown := GAS_TYPED.fullmatch(text.strip())):
            return _nitrogen(text, shown)
        return parse_quantity(
            text,
            self.dimension,
            default_unit=self.default_unit,
            atmosphere_pa=self.atmosphere_pa,
        )

    def _parse(self, text: str) -> float:
        return self._read(text).value_si

    def _check_limits(self, number: float) -> None:
        if self.minimum is not None and number < self.minimum:
            raise ValidationError(
                gettext("It must be at least {minimum}.").format(minimum=self._show(self.minimum)),
                code="min",
            )
        if self.maximum is not None and number > self.maximum:
            raise ValidationError(
                gettext("It must be at most {maximum}.").format(maximum=self._show(self.maximum)),
                code="max",
            )

    def _show(self, number: float) -> str:
        return format_quantity(number, self.dimension, self.units)


class OpenNumber(ValidationError):
    """What was typed could be two numbers; `meant` are both, for a form that offers them."""

    def __init__(self, message: str, meant: tuple[str, ...]):
        super().__init__(message, code="two_readings")
        self.meant = meant


def refusal(error: QuantityError) -> ValidationError:
    if isinstance(error, OpenQuantityError):
        return OpenNumber(str(error), error.meant)
    return ValidationError(str(error), code="quantity")


def _nitrogen(text: str, shown: re.Match[str]) -> Quantity:
    """Nitrogen in percent, of more than all of the gas as well: what was meant is then asked."""
    try:
        number = read_number(tidy(shown["number"]))
    except TwoReadingsError as error:
        raise OpenQuantityError(text, error) from None
    except NumberError as error:
        raise QuantityError(text, str(error), write_like(DIMENSIONS["percent"])) from None
    is_oxygen = (shown["gas"] or "").lower().startswith("o")
    return Quantity(round(100 - number, 6) if is_oxygen else number, "% O2" if is_oxygen else "%")


class NominalSizeField(forms.CharField):
    """Cleans to the book's spelling of a pipe size: DN32 and 1 1/4" both to 1-1/4."""

    def __init__(self, **kwargs: Any):
        super().__init__(**kwargs)
        self.widget.attrs["placeholder"] = gettext_lazy("for example 1-1/4 or DN32")

    def to_python(self, value: Any) -> str:
        text = super().to_python(value)
        if text in self.empty_values:
            return ""
        try:
            return parse_nominal_size(text)
        except QuantityError as error:
            raise ValidationError(str(error), code="size") from None


def use_units(form: forms.BaseForm, user: Any, *, atmosphere_pa: float | None = None) -> None:
    """Let every quantity of a form speak the person's units, and know the air at the site."""
    for field in form.fields.values():
        if isinstance(field, QuantityField):
            field.units = getattr(user, "display_units", "us")
            if atmosphere_pa is not None:
                field.atmosphere_pa = atmosphere_pa
