"""Attack that needs no oxygen: sites fed by the water, which nitrogen does not stop.

Bacteria, deposits, chlorides, seams and joints of unlike metals start sites. How many is not
known: a system is quiet or active, and the number of its sites is Gamma distributed in either.
A site goes through after a lognormal time, counted on a clock that runs only while water feeds it:
what sulphate reducers take is bound by the sulphate brought in, so a closed pipe slows and stops.
"""

from typing import Final

import numpy as np

from registry.corrosion.batch import Batch
from registry.corrosion.constants import DENSITY_STEEL, IRON_PER_SULPHATE
from registry.corrosion.history import otherwise
from registry.corrosion.types import Array

MIDDLING_AREA: Final = 150.0
"""Inner surface of the system that the numbers of sites are for, m2: 930 m of branch lines, mains
and riser. Sites go with the surface, so more pipe is never better."""

USUAL_WETTED: Final = 0.05
"""Share of the length of gas-filled pipe that holds water in a system with as many sites as one
full of water. Assumed."""


def feeding_years(batch: Batch) -> Array:
    """Years for which one filling feeds a site at full speed, (runs,).

    Equation: T50 C V 2.325 / (2/3 pi t**3 rho): the iron that the sulphate of the water around it
    can take, over that of a half sphere as deep as the wall, times the time to get through.
    """
    s, r = batch.systems, batch.runs
    mine = batch.assumptions.for_systems(r.system)
    sulphate = otherwise(s.sulphate_kg_m3[r.system], np.asarray(mine.sulphate_kg_m3))
    full = np.where(s.has_pools[r.system], mine.pool_fill, 1.0)
    water = np.pi / 4.0 * r.bore_m**2 * mine.catchment_m * full
    pit = 2.0 / 3.0 * np.pi * r.wall_m**3 * DENSITY_STEEL
    through = r.wall_m / mine.site_rate_m_per_yr
    years: Array = through * sulphate * water * IRON_PER_SULPHATE / pit
    return np.maximum(years, 1e-6)


def site_share(batch: Batch, wetted: Array) -> Array:
    """Sites on each run over those of a middling system, (runs,).

    Notes: in gas-filled pipe they sit where water stands; a system with the usual amount of it
    counts as its whole surface, one with none has no sites.
    """
    r = batch.runs
    wet = np.where(batch.systems.has_pools[r.system], wetted / USUAL_WETTED, 1.0)
    share: Array = np.pi * r.bore_m * r.length_m / MIDDLING_AREA * wet * r.in_model
    return share
