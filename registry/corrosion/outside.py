"""The model against numbers from outside: every published example, each beside ours.

The examples are rows of fixtures/published_values.csv. `inputs` are SI numbers or [number, unit]
pairs; the answer is compared in the unit the source prints, to the tolerance its digits allow.
"""

import csv
import importlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

FIXTURE: Final = Path(__file__).parents[2] / "fixtures" / "published_values.csv"

SI_PER: Final = {
    "1": 1.0,
    "%": 0.01,
    "m3": 1.0,
    "atm": 101325.0,
    "psi": 6894.757293168,
    "mmHg": 101325.0 / 760.0,
    "MPa": 1e6,
    "kPa": 1e3,
    "gal": 3.785411784e-3,
    "L": 1e-3,
    "ft3": 0.3048**3,
    "in": 0.0254,
    "ft": 0.3048,
    "mm": 1e-3,
    "um": 1e-6,
    "in2": 0.0254**2,
    "cm2": 1e-4,
    "g": 1e-3,
    "mg": 1e-6,
    "mg/L": 1e-3,
    "umol/kg": 1e-6,
    "degR": 5.0 / 9.0,
    "lb-mol": 453.59237,
    "L/m": 1e-3,
    "gal/ft": 3.785411784e-3 / 0.3048,
    "uA/cm2": 1e-2,
    "h": 3600.0,
    "yr": 365.25 * 86400.0,
    "um/yr": 1e-6 / (365.25 * 86400.0),
    "mm/yr": 1e-3 / (365.25 * 86400.0),
    "mil/yr": 2.54e-5 / (365.25 * 86400.0),
    "mm/365 d": 1e-3 / (365.0 * 86400.0),
    "mil/365 d": 2.54e-5 / (365.0 * 86400.0),
    "in/yr": 0.0254 / (365.25 * 86400.0),
    "g/m2": 1e-3,
    "1e-9": 1e-9,
    "1e-6": 1e-6,
    "gpm": 3.785411784e-3 / 60.0,
    "L/min": 1e-3 / 60.0,
    "psi/ft": 6894.757293168 / 0.3048,
    "bar/m": 1e5,
}


def si(value: Any) -> Any:
    if not isinstance(value, list) or not isinstance(value[-1], str):
        return value
    number, unit = value
    if unit == "degF":
        return (number - 32.0) * 5.0 / 9.0 + 273.15
    if unit == "degC":
        return number + 273.15
    return number * SI_PER[unit]


@dataclass(frozen=True, slots=True)
class Example:
    """One published number. `function` is module.name of this package, maybe :attribute."""

    id: str
    function: str
    inputs: str
    expected: float
    unit: str
    tolerance: float
    source: str
    how_known: str

    def answer(self) -> float:
        """What the model gives, in the unit of the source."""
        path, _, attribute = self.function.partition(":")
        module, name = path.split(".")
        function = getattr(importlib.import_module(f"registry.corrosion.{module}"), name)
        found = function(**{key: si(value) for key, value in json.loads(self.inputs).items()})
        return float(getattr(found, attribute) if attribute else found) / SI_PER[self.unit]

    def agrees(self, answer: float) -> bool:
        return abs(answer - self.expected) <= self.tolerance + 1e-12


def examples() -> Sequence[Example]:
    with FIXTURE.open(encoding="utf-8", newline="") as lines:
        return [_example(row) for row in csv.DictReader(lines)]


def _example(row: dict[str, str]) -> Example:
    numbers = {name: float(row[name]) for name in ("expected", "tolerance")}
    return Example(**(row | numbers))  # type: ignore[arg-type]
