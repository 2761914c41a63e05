"""Nominal size and schedule to diameters, wall, volume and inner area.

The tables are data (`data/pipe_sizes.csv`), each row with its standard and how it is known.
Schedule "light" is sprinkler light-wall pipe: as Schedule 10, except NPS 8 and 10, which are
sold with a wall of 0.188 in and not the 0.148 / 0.165 in of ASME B36.10M Schedule 10.
"""

import csv
import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from registry.corrosion.types import require_positive

FAMILIES = {
    "black_steel": "steel",
    "galvanized_steel": "steel",
    "stainless_steel": "stainless",
    "copper": "copper",
    "cpvc": "cpvc",
}


@dataclass(frozen=True, slots=True)
class PipeDimensions:
    """Cross-section of one pipe, with where its wall comes from."""

    nominal_size: str
    dn: int
    outside_diameter_m: float
    wall_m: float
    source: str
    how_known: str

    @property
    def inside_diameter_m(self) -> float:
        return self.outside_diameter_m - 2.0 * self.wall_m

    @property
    def volume_per_length_m2(self) -> float:
        """Bore, m3 of gas or water per metre of pipe."""
        return math.pi / 4.0 * self.inside_diameter_m**2

    @property
    def internal_area_per_length_m(self) -> float:
        """Inner surface, m2 per metre of pipe."""
        return math.pi * self.inside_diameter_m


@cache
def _tables() -> dict[str, dict[str, dict[str, PipeDimensions]]]:
    """family -> schedule -> nominal size -> dimensions, in the order of the file."""
    tables: dict[str, dict[str, dict[str, PipeDimensions]]] = {}
    text = files("registry.corrosion").joinpath("data/pipe_sizes.csv").read_text("utf-8")
    for row in csv.DictReader(text.splitlines()):
        sizes = tables.setdefault(row["family"], {}).setdefault(row["schedule"], {})
        sizes[row["nominal_size"]] = PipeDimensions(
            nominal_size=row["nominal_size"],
            dn=int(row["dn"]),
            outside_diameter_m=float(row["outside_diameter_mm"]) / 1000.0,
            wall_m=float(row["wall_mm"]) / 1000.0,
            source=row["source"],
            how_known=row["how_known"],
        )
    return tables


def _schedules(material: str) -> dict[str, dict[str, PipeDimensions]]:
    if material not in FAMILIES:
        raise ValueError(f"material {material!r} is not known; known: {', '.join(FAMILIES)}")
    return _tables()[FAMILIES[material]]


def schedules(material: str) -> list[str]:
    """Schedules (or types, or ratios) this material is made in."""
    return list(_schedules(material))


def nominal_sizes(material: str = "black_steel", schedule: str | None = None) -> list[str]:
    """Nominal sizes made, smallest first, in the form "1-1/4"."""
    tables = _schedules(material)
    chosen = [tables[_known_schedule(material, schedule)]] if schedule else list(tables.values())
    dn_by_size = {size: pipe.dn for table in chosen for size, pipe in table.items()}
    return sorted(dn_by_size, key=lambda size: dn_by_size[size])


def _known_schedule(material: str, schedule: str) -> str:
    wanted = re.sub(r"^(schedule|sch\.?|type)\s*", "", schedule.strip(), flags=re.I)
    for known in _schedules(material):
        if known.replace(" ", "").lower() == wanted.replace(" ", "").lower():
            return known
    made = ", ".join(schedules(material))
    raise ValueError(f"{material} is not listed in schedule {schedule!r}; listed: {made}")


@lru_cache(maxsize=1024)
def dn_from_nominal_size(nps: str) -> int:
    """DN (ISO 6708) of a nominal pipe size: "1-1/4" is 32."""
    size = _canonical(nps)
    for table in _tables()["steel"].values():
        if size in table:
            return table[size].dn
    raise ValueError(f"nominal size {nps!r} is not listed; listed: {', '.join(nominal_sizes())}")


def nominal_size_from_dn(dn: int) -> str:
    """Nominal pipe size of a DN: 32 is "1-1/4"."""
    by_dn = {dn_from_nominal_size(size): size for size in nominal_sizes()}
    if dn not in by_dn:
        raise ValueError(f"DN {dn} is not listed; listed: {', '.join(map(str, by_dn))}")
    return by_dn[dn]


def _canonical(nps: str) -> str:
    """ "1 1/4", '1-1/4"' and "DN32" all to "1-1/4"; other text passes unchanged."""
    text = nps.strip().strip('"').strip()
    if match := re.fullmatch(r"DN\s*(\d+)", text, flags=re.I):
        return nominal_size_from_dn(int(match[1]))
    return re.sub(r"[\s-]+", "-", text)


def pipe_dimensions(*, material: str, nps: str, schedule: str) -> PipeDimensions:
    """Diameters and wall of a listed pipe.

    Raises: ValueError naming the schedules or sizes made when this one is not.
    Example:
    >>> pipe = pipe_dimensions(material="black_steel", nps="4", schedule="10")
    >>> round(pipe.inside_diameter_m * 1000, 1), round(pipe.volume_per_length_m2 * 1000, 3)
    (108.2, 9.195)

    Source: ASME B36.10M, ASME B36.19M, ASTM B88, ASTM F442; see the data file.
    """
    known = _known_schedule(material, schedule)
    sizes, size = _schedules(material)[known], _canonical(nps)
    if size not in sizes:
        made = ", ".join(sizes)
        raise ValueError(
            f"{material} schedule {known} is not made in nominal size {nps!r}; sizes made: {made}"
        )
    return sizes[size]


def dimensions_with_wall(*, material: str, nps: str, wall: float) -> PipeDimensions:
    """Diameters of a listed outside diameter with a given wall [m], for pipe of no schedule."""
    require_positive(wall=wall)
    size = _canonical(nps)
    for table in _schedules(material).values():
        if size in table:
            known = table[size]
            break
    else:
        made = ", ".join(nominal_sizes(material))
        raise ValueError(f"{material} is not made in nominal size {nps!r}; sizes made: {made}")
    if 2.0 * wall >= known.outside_diameter_m:
        outside = known.outside_diameter_m * 1000.0
        raise ValueError(
            f"wall is {wall * 1000.0:g} mm; it must be below half of the outside diameter,"
            f" {outside:g} mm"
        )
    return PipeDimensions(size, known.dn, known.outside_diameter_m, wall, "given wall", "given")
