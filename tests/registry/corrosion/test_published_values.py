"""Published examples and independent values, one row each in fixtures/published_values.csv.

`inputs` are SI numbers or [number, unit] pairs; the answer is compared in the unit printed by
the source, to the tolerance its printed digits allow.
"""

import csv
import importlib
import json
from pathlib import Path

import pytest

FIXTURE = Path(__file__).parents[3] / "fixtures" / "published_values.csv"

SI_PER = {
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
    "gpm": 3.785411784e-3 / 60.0,
    "L/min": 1e-3 / 60.0,
    "psi/ft": 6894.757293168 / 0.3048,
    "bar/m": 1e5,
}


def si(value):
    if not isinstance(value, list) or not isinstance(value[1], str):
        return value
    number, unit = value
    if unit == "degF":
        return (number - 32.0) * 5.0 / 9.0 + 273.15
    if unit == "degC":
        return number + 273.15
    return number * SI_PER[unit]


def rows():
    with FIXTURE.open(encoding="utf-8", newline="") as lines:
        return [pytest.param(row, id=row["id"]) for row in csv.DictReader(lines)]


def answer(row):
    path, _, attribute = row["function"].partition(":")
    module, name = path.split(".")
    function = getattr(importlib.import_module(f"registry.corrosion.{module}"), name)
    result = function(**{key: si(value) for key, value in json.loads(row["inputs"]).items()})
    return float(getattr(result, attribute) if attribute else result)


@pytest.mark.parametrize("row", rows())
def test_agrees_with(row):
    expected, tolerance = float(row["expected"]), float(row["tolerance"])
    assert answer(row) / SI_PER[row["unit"]] == pytest.approx(expected, abs=tolerance + 1e-12)


def test_every_row_says_where_it_comes_from_and_how_it_is_known():
    for param in rows():
        row = param.values[0]
        assert row["source"] and row["how_known"], row["id"]


def test_ids_are_unique():
    ids = [param.id for param in rows()]
    assert len(ids) == len(set(ids))
