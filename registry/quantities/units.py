"""Which units each dimension is typed in, stored in and shown in.

Stored units follow the names in the models: pressure_gauge_pa, length_m, volume_m3, temperature_k,
wall_mm, n2_percent. All are SI or, for the last two, decimal multiples of it.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any

PSI = 6894.757293168361  # Pa


@dataclass(frozen=True)
class Unit:
    symbol: str
    pint_name: str
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shown:
    """Shown in this unit from this stored magnitude up."""

    symbol: str
    decimals: int
    at_least: float = 0.0


@dataclass(frozen=True)
class Dimension:
    name: str
    noun: str
    stored: str
    units: tuple[Unit, ...]
    shown: dict[str, tuple[Shown, ...]]
    examples: dict[str, str]
    lowest: float = 0.0
    highest: float = 1e9
    default_unit: str | None = None
    is_compound: bool = False

    def unit_for(self, typed: str) -> Unit | None:
        return _aliases(self.name).get(typed)

    def unit(self, symbol: str) -> Unit:
        return next(unit for unit in self.units if unit.symbol == symbol)


LENGTH_UNITS = (
    Unit("m", "metre", ("metre", "metres", "meter", "meters", "mtr", "mtrs")),
    Unit("cm", "centimetre"),
    Unit("mm", "millimetre", ("millimetres", "millimeters")),
    Unit("km", "kilometre"),
    Unit("ft", "foot", ("'", "foot", "feet", "lf", "linft", "linearfeet")),
    Unit("in", "inch", ('"', "inch", "inches", "ins")),
    Unit("yd", "yard", ("yard", "yards")),
)
THICKNESS_UNITS = (
    Unit("mm", "millimetre", ("millimetres", "millimeters")),
    Unit("um", "micrometre", ("micron", "microns", "micrometres", "micrometers")),
    Unit("in", "inch", ('"', "inch", "inches")),
    Unit("mil", "thou", ("mils", "thou")),
    Unit("cm", "centimetre"),
    Unit("m", "metre"),
)
PRESSURE_UNITS = (
    Unit("psi", "psi", ("lb/in2", "lbf/in2", "lbs/in2")),
    Unit("bar", "bar", ("bars",)),
    Unit("mbar", "millibar"),
    Unit("kPa", "kilopascal"),
    Unit("MPa", "megapascal"),
    Unit("hPa", "hectopascal"),
    Unit("Pa", "pascal"),
    Unit("atm", "atmosphere"),
    Unit("kgf/cm2", "kilogram_force / centimetre ** 2", ("kg/cm2",)),
)
VOLUME_UNITS = (
    Unit(
        "gal", "US_liquid_gallon", ("gallon", "gallons", "usgal", "usgallon", "usgallons", "gals")
    ),
    Unit(
        "imp gal",
        "imperial_gallon",
        ("impgallon", "impgallons", "imperialgallon", "imperialgallons", "ukgal", "ukgallons"),
    ),
    Unit("L", "litre", ("litre", "litres", "liter", "liters", "ltr", "ltrs")),
    Unit("mL", "millilitre", ("cc", "cm3")),
    Unit("m3", "metre ** 3", ("cum", "cubicmetres", "cubicmeters", "m^3")),
    Unit("ft3", "foot ** 3", ("cuft", "cf", "cubicfeet", "ft^3", "scf")),
)
FLOW_UNITS = (
    Unit("gpm", "US_liquid_gallon / minute", ("gal/min", "usgpm")),
    Unit("L/min", "litre / minute", ("lpm", "litres/min", "liters/min", "l/minute")),
    Unit("L/s", "litre / second", ("lps",)),
    Unit("cfm", "foot ** 3 / minute", ("ft3/min", "cuft/min", "scfm")),
    Unit("scfh", "foot ** 3 / hour", ("cfh", "ft3/h", "ft3/hr")),
    Unit("m3/h", "metre ** 3 / hour", ("m3/hr", "cmh", "nm3/h")),
    Unit("m3/s", "metre ** 3 / second"),
)

DIMENSIONS: dict[str, Dimension] = {
    dimension.name: dimension
    for dimension in (
        Dimension(
            "length", "a length", "metre", LENGTH_UNITS,
            {"us": (Shown("ft", 1),), "si": (Shown("m", 1),)},
            {"us": "41 ft", "si": "12.5 m"}, highest=1e6, is_compound=True,
        ),
        Dimension(
            "altitude", "a height above sea level", "metre", LENGTH_UNITS,
            {"us": (Shown("ft", 0),), "si": (Shown("m", 0),)},
            {"us": "5280 ft", "si": "1609 m"}, lowest=-500, highest=9000, is_compound=True,
        ),
        Dimension(
            "area", "an area", "metre ** 2",
            (
                Unit("m2", "metre ** 2", ("sqm", "m^2")),
                Unit("cm2", "centimetre ** 2", ("sqcm", "cm^2")),
                Unit("mm2", "millimetre ** 2", ("sqmm", "mm^2")),
                Unit("in2", "inch ** 2", ("sqin", "in^2")),
                Unit("ft2", "foot ** 2", ("sqft", "ft^2")),
            ),
            {"us": (Shown("in2", 2), Shown("ft2", 1, at_least=0.09)),
             "si": (Shown("cm2", 1), Shown("m2", 2, at_least=0.1))},
            {"us": "4.5 in2", "si": "29 cm2"}, highest=1e6,
        ),
        Dimension(
            "wall", "a thickness", "millimetre", THICKNESS_UNITS,
            {"us": (Shown("in", 4),), "si": (Shown("mm", 3),)},
            {"us": "0.120 in", "si": "3.05 mm"}, highest=1e4,
        ),
        Dimension(
            "pressure", "a pressure", "pascal", PRESSURE_UNITS,
            {"us": (Shown("psi", 1),), "si": (Shown("bar", 2),)},
            {"us": "30 psi", "si": "2.1 bar"}, lowest=-101_330, highest=1e9,
        ),
        Dimension(
            "pressure_difference", "a pressure difference", "pascal", PRESSURE_UNITS,
            {"us": (Shown("psi", 2),), "si": (Shown("bar", 3),)},
            {"us": "1.5 psi", "si": "0.1 bar"}, highest=1e9,
        ),
        Dimension(
            "volume", "a volume", "metre ** 3", VOLUME_UNITS,
            {"us": (Shown("gal", 1),), "si": (Shown("L", 1), Shown("m3", 2, at_least=10))},
            {"us": "500 gal", "si": "1900 L"}, highest=1e7,
        ),
        Dimension(
            "temperature", "a temperature", "kelvin",
            (
                Unit("°C", "degC", ("c", "degc", "celsius", "degreesc")),
                Unit("°F", "degF", ("f", "degf", "fahrenheit", "degreesf")),
                Unit("K", "kelvin", ("kelvin", "kelvins", "degk")),
            ),
            {"us": (Shown("°F", 1),), "si": (Shown("°C", 1),)},
            {"us": "68 °F", "si": "20 °C"}, lowest=1e-6, highest=5000,
        ),
        Dimension(
            "flow", "a flow", "metre ** 3 / second", FLOW_UNITS,
            {"us": (Shown("gpm", 1),), "si": (Shown("L/min", 1),)},
            {"us": "100 gpm", "si": "380 L/min"}, highest=1e4,
        ),
        Dimension(
            "gas_flow", "a gas flow", "metre ** 3 / second", FLOW_UNITS,
            {"us": (Shown("scfh", 0),), "si": (Shown("L/min", 0),)},
            {"us": "200 scfh", "si": "95 L/min"}, highest=1e4,
        ),
        Dimension(
            "mass", "a mass", "kilogram",
            (
                Unit("kg", "kilogram", ("kgs", "kilogram", "kilograms", "kilo", "kilos")),
                Unit("g", "gram", ("gram", "grams")),
                Unit("mg", "milligram"),
                Unit("t", "metric_ton", ("tonne", "tonnes")),
                Unit("lb", "pound", ("lbs", "pound", "pounds")),
                Unit("oz", "ounce", ("ounce", "ounces")),
            ),
            {"us": (Shown("oz", 3), Shown("lb", 2, at_least=0.4536)),
             "si": (Shown("g", 2), Shown("kg", 2, at_least=1))},
            {"us": "2 lb", "si": "0.9 kg"}, highest=1e7, is_compound=True,
        ),
        Dimension(
            "duration", "a duration", "second",
            (
                Unit("s", "second", ("sec", "secs", "second", "seconds")),
                Unit("min", "minute", ("mins", "minute", "minutes")),
                Unit("h", "hour", ("hr", "hrs", "hour", "hours")),
                Unit("days", "day", ("d", "day")),
                Unit("weeks", "week", ("week", "wk", "wks")),
            ),
            {system: (Shown("s", 0), Shown("min", 1, at_least=120), Shown("h", 1, at_least=7200),
                      Shown("days", 1, at_least=172_800)) for system in ("us", "si")},
            {"us": "45 min", "si": "45 min"}, is_compound=True,
        ),
        Dimension(
            "percent", "a percentage", "percent",
            (Unit("%", "percent", ("percent", "pct", "pc", "%n2", "%o2", "%nitrogen", "%oxygen")),),
            {system: (Shown("%", 2),) for system in ("us", "si")},
            {"us": "98 %", "si": "98 %"}, highest=100, default_unit="%",
        ),
        Dimension(
            "ppm", "a fraction in parts per million", "ppm",
            (Unit("ppm", "ppm", ("ppmv",)), Unit("%", "percent", ("percent",))),
            {system: (Shown("ppm", 0),) for system in ("us", "si")},
            {"us": "500 ppm", "si": "500 ppm"}, highest=1e6, default_unit="ppm",
        ),
        Dimension(
            "concentration", "a concentration", "milligram / litre",
            (
                Unit("mg/L", "milligram / litre", ("ppm", "mg/ltr", "mg/litre", "g/m3")),
                Unit("ug/L", "microgram / litre", ("ppb",)),
                Unit("g/L", "gram / litre"),
            ),
            {system: (Shown("mg/L", 2),) for system in ("us", "si")},
            {"us": "8.5 mg/L", "si": "8.5 mg/L"}, highest=1e6,
        ),
        Dimension(
            "corrosion_rate", "a corrosion rate", "millimetre / year",
            (
                Unit("mm/year", "millimetre / year", ("mm/yr", "mm/y", "mmpy", "mm/a")),
                Unit("um/year", "micrometre / year", ("um/yr", "um/y", "um/a")),
                Unit("mil/year", "thou / year", ("mpy", "mils/year", "mil/yr", "mils/yr")),
            ),
            {"us": (Shown("mil/year", 2),), "si": (Shown("mm/year", 3),)},
            {"us": "3 mil/year", "si": "0.08 mm/year"}, highest=1e3,
        ),
    )
}  # fmt: skip

GAUGE, ABSOLUTE = "gauge", "absolute"
REFERENCES = {"": None, "g": GAUGE, "gauge": GAUGE, "ga": GAUGE, "a": ABSOLUTE, "abs": ABSOLUTE,
              "absolute": ABSOLUTE}  # fmt: skip


@cache
def _aliases(name: str) -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for unit in DIMENSIONS[name].units:
        for alias in (unit.symbol.lower().replace(" ", "").replace("°", ""), *unit.aliases):
            table.setdefault(alias, unit)
    return table


@cache
def pressure_aliases() -> dict[str, tuple[Unit, str | None]]:
    """“psi”, “psig”, “psi abs”... with what each says about gauge or absolute."""
    return {
        alias + suffix: (unit, reference)
        for alias, unit in _aliases("pressure").items()
        for suffix, reference in REFERENCES.items()
    }


@cache
def scale_and_offset(pint_name: str, stored: str) -> tuple[float, float]:
    """Value in the stored unit = typed value x scale + offset."""
    if pint_name in ("degC", "degF"):
        return _converted(1, f"delta_{pint_name}", stored), _converted(0, pint_name, stored)
    return _converted(1, pint_name, stored), 0.0


def _converted(value: float, unit: str, stored: str) -> float:
    # 15 digits drop the last-bit noise of chained factors: a foot is 0.3048 m exactly.
    return float(f"{_registry().Quantity(value, unit).to(stored).magnitude:.15g}")


@cache
def _registry() -> Any:
    # Imported at first use: building the registry takes a third of a second, which a command
    # that types no quantity should not pay.
    from pint import UnitRegistry

    return UnitRegistry()
