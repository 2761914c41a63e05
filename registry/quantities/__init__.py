"""Quantities as people type and read them; pint gives the factors and never sees typed text."""

from .parsing import (
    STANDARD_ATMOSPHERE_PA,
    MissingUnitError,
    OpenQuantityError,
    Quantity,
    QuantityError,
    parse_quantity,
)
from .showing import (
    Shape,
    echo_quantity,
    format_quantity,
    input_text,
    shape_quantity,
    unit_text,
)
from .sizes import DN_BY_SIZE, SIZES, parse_nominal_size, size_text
from .units import ABSOLUTE, DIMENSIONS, PSI

__all__ = [
    "ABSOLUTE",
    "DIMENSIONS",
    "DN_BY_SIZE",
    "PSI",
    "SIZES",
    "STANDARD_ATMOSPHERE_PA",
    "MissingUnitError",
    "OpenQuantityError",
    "Quantity",
    "QuantityError",
    "Shape",
    "echo_quantity",
    "format_quantity",
    "input_text",
    "parse_nominal_size",
    "parse_quantity",
    "shape_quantity",
    "size_text",
    "unit_text",
]
