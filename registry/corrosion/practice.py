"""What practice and handbooks tell of whole systems, beside what the defaults alone give."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_one
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.constants import STANDARD_ATMOSPHERE
from registry.corrosion.dimensions import pipe_dimensions
from registry.corrosion.inputs import GasSpan, RunInput, SystemInput
from registry.corrosion.pools import oxygen_supply, pool_rate
from registry.corrosion.rates import YEAR, limiting_rate
from registry.corrosion.water import dissolved_oxygen_under_gas

PSI: Final = 6894.757293168
AIR: Final = 0.2095
HORIZONS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 80.0)
PRACTICE: Final = "Common practice, no source"


@dataclass(frozen=True, slots=True)
class Claim:
    """A range that somebody tells, and what the model gives."""

    text: str
    answer: float
    low: float
    high: float
    unit: str
    source: str

    @property
    def agrees(self) -> bool:
        return self.low <= self.answer <= self.high

    @property
    def off(self) -> str:
        """How far outside the range, if it is."""
        away = min(self.answer - self.low, 0.0) + max(self.answer - self.high, 0.0)
        return f"{away:+.2g}" if away else "inside"


def middling(kind: str, **changes: object) -> SystemInput:
    """A new system: Schedule 10 mains, threaded Schedule 40 branch lines."""
    material = "black_steel" if kind == "wet" else "galvanized_steel"
    gauge = 125.0 if kind == "wet" else 40.0
    values: dict[str, object] = {
        "kind": kind,
        "installed_yr": 0.0,
        "now_yr": 0.0,
        "pressure_pa": gauge * PSI + STANDARD_ATMOSPHERE,
        "runs": tuple(_run(material, *row) for row in _PIPE),
    }
    return SystemInput(**{**values, **changes})  # type: ignore[arg-type]


_PIPE: Final = (
    ("6", "10", 30.0, "riser", "roll_grooved"),
    ("4", "10", 120.0, "cross_main", "roll_grooved"),
    ("2-1/2", "10", 80.0, "cross_main", "roll_grooved"),
    ("1-1/4", "40", 400.0, "branch_line", "threaded"),
    ("1", "40", 300.0, "branch_line", "threaded"),
)


def _run(material: str, size: str, schedule: str, length: float, role: str, joint: str) -> RunInput:
    pipe = pipe_dimensions(material=material, nps=size, schedule=schedule)
    return RunInput(
        material, size, pipe.outside_diameter_m, pipe.wall_m, length, 0.0, role=role, joint=joint
    )


def claims() -> Sequence[Claim]:
    """Every claim with the model's answer."""
    holds = Assumptions(drained_share=0.0)
    dry = middling("dry", spans=(GasSpan(0.0, AIR, AIR, 8.0),), assumptions=holds,
                   future_fills_per_year=0.0)  # fmt: skip
    other = middling("wet", spans=(GasSpan(0.0, 0.0),), future_oxygen=0.0)
    alone = {"horizons": HORIZONS}
    wet_life = assess_one(middling("wet", assumptions=Assumptions(active_share=0.001)), **alone)  # type: ignore[arg-type]
    dry_life = assess_one(dry, **alone)  # type: ignore[arg-type]
    sites = assess_one(other, **alone)  # type: ignore[arg-type]
    by = dict(zip(HORIZONS, sites.leak_probability[0].tolist(), strict=True))
    handbook = "Uhlig & Revie, Corrosion and Corrosion Control, from memory: 10 to 25 mdd, steady"
    sites_from = (
        "Clarke & Aguilera, Automatic Sprinkler Systems Handbook 2007, supplement 3: most after 5 "
        "to 20 years, some in under one"
    )
    oxygen = float(dissolved_oxygen_under_gas(AIR, STANDARD_ATMOSPHERE, 293.15))
    under_rust = float(limiting_rate(293.15, oxygen, 2e-3, product="Fe3O4")) * YEAR * 1e3
    supply = oxygen_supply(40.0 * PSI + STANDARD_ATMOSPHERE, 293.15)
    pool = 1e3 * AIR * float(pool_rate(supply, 0.1082, fill=0.2, film=2e-3))
    return [
        Claim("Black, wet, air yearly, 125 psig: median years to a leak by oxygen",
              _life(wet_life), 10.0, 25.0, "yr", PRACTICE),
        Claim("Galvanized, dry, air, given that it holds water: median years to a leak",
              _life(dry_life), 2.0, 10.0, "yr", f"{PRACTICE}; one trade article, 2 to 3"),
        Claim("Other causes alone: leaks within 20 years that came after 5",
              (by[20.0] - by[5.0]) / by[20.0], 0.5, 1.0, "1", sites_from),
        Claim("Other causes alone: chance of a leak within two years",
              by[2.0], 0.001, 0.05, "1", sites_from),
        Claim("Iron under 2 mm of rust in aerated fresh water, 20 C (fitted)",
              under_rust, 0.046, 0.116, "mm/yr", handbook),
        Claim("Waterline of a pool, 40 psig air, NPS 4", pool, 0.046, 0.464, "mm/yr",
              f"{handbook}, to initial rates, at 1 atm"),
        Claim("Other causes: median rate of a site that is fed",
              1e3 * float(np.asarray(Assumptions().site_rate_m_per_yr)), 0.2, 0.42, "mm/yr",
              "Duluth harbour: 6.35 mm in 25 years, and plate through in about 30; newspapers"),
    ]  # fmt: skip


def _life(found: Assessments) -> float:
    return float(found.life_yr[0, 1])
