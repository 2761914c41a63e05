"""Measured points: what each wall reading means by itself, beside what the model makes of it.

The arithmetic is that of API 570: rates over the long and the short term, remaining life to the
wall that is needed, half of it to the next survey.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_one
from registry.corrosion.attack import attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.dimensions import dn_from_nominal_size
from registry.corrosion.inputs import SystemInput, WallReading
from registry.corrosion.readings import plain_spread
from registry.corrosion.spots import IN_DOUBT, chance_through, growth, pressure_minimum
from registry.corrosion.thickness import (
    STRUCTURAL_MINIMUM_IN,
    governing_rate,
    inspection_interval,
    long_term_rate,
    remaining_life,
    structural_minimum,
)

MOST_YEARS_BETWEEN_LOOKS: Final = 5.0
"""The internal condition assessment of NFPA 25 comes every five years (secondary source)."""

SAME_SURVEY: Final = 0.25
"""Years within which two readings of a run are one survey and give no rate."""

CONTRADICTS: Final = 1e-3
"""A reading less likely than this, either way, contradicts what the model expected."""

CHANGED: Final = 0.9
"""Rate of the next five years over that of the whole life, below which the atmosphere changed."""


@dataclass(frozen=True, slots=True)
class MeasuredPoint:
    """One reading and what follows from it. Rates in m/yr; None: not known or no measurable loss.

    thinner: chance that the model gave a reading as thin, before it was taken; contradicts: "thin"
    or "thick" where that was less than one in a thousand, else empty; has_slowed: the atmosphere
    changed since, so the spot is taken to grow slower than over its life.
    """

    reading: WallReading
    left_m: float
    long_term: float
    short_term: float | None
    governing: float
    needed_m: float
    structural_m: float | None
    life_yr: float | None
    structural_life_yr: float | None
    half_life_yr: float | None
    interval_yr: float
    leak_in_5_yr: float
    other_cause: float
    thinner: float
    contradicts: str
    has_slowed: bool


def measured_points(
    system: SystemInput, base: Assessments | None = None
) -> tuple[MeasuredPoint, ...]:
    """Every wall reading of the pipe that is there, in the order of runs and time."""
    base = base or assess_one(system)
    batch = batch_from([system])
    attack, spots, w = attack_of(batch), base.belief.spots, batch.walls
    if not w.run.size:
        return ()
    readings = sorted(
        (wall for wall in system.walls if not wall.is_baseline),
        key=lambda r: (r.run, r.at_yr, r.remaining_m),
    )
    now = batch.systems.now_yr[:, None]
    grown, _ = growth(batch, attack, spots, now + np.array([0.0, 5.0]))
    doubt = IN_DOUBT * plain_spread(batch)
    chance = chance_through(batch, attack, spots, now + 5.0)[0]
    needed = pressure_minimum(batch)
    found = []
    for at, reading in enumerate(readings):
        run = system.runs[reading.run]
        if reading.at_yr < run.installed_yr:
            continue
        wall = float(batch.runs.wall_m[reading.run])
        years = max(reading.at_yr - run.installed_yr, 0.1)
        long_term = float(long_term_rate(wall, min(reading.remaining_m, wall), years))
        short_term = _short_term(readings[:at], reading)
        governing = float(governing_rate(max(long_term, 0.0), short_term or 0.0))
        left = max(wall - float(spots.loss_m[at]) - float(grown[0, at]), 0.0)
        structural = _structural(run.nominal_size)
        life = _life(left, float(needed[reading.run]), governing)
        thinner, thicker = float(base.belief.thinner[at]), float(base.belief.thicker[at])
        found.append(
            MeasuredPoint(
                reading=reading,
                left_m=left,
                long_term=long_term,
                short_term=short_term,
                governing=governing,
                needed_m=float(needed[reading.run]),
                structural_m=structural,
                life_yr=life,
                structural_life_yr=None
                if structural is None
                else _life(left, structural, governing),
                half_life_yr=None if life is None else life / 2.0,
                interval_yr=float(
                    inspection_interval(np.nan if life is None else life, MOST_YEARS_BETWEEN_LOOKS)
                ),
                leak_in_5_yr=float(chance[at]),
                other_cause=float(spots.other[at]),
                thinner=thinner,
                contradicts="thin" if thinner < CONTRADICTS else "thick" * (thicker < CONTRADICTS),
                has_slowed=float(grown[1, at] - grown[0, at]) / 5.0
                < CHANGED * (long_term - float(doubt[at]) / years),
            )
        )
    return tuple(found)


def _short_term(earlier: list[WallReading], reading: WallReading) -> float | None:
    """Loss a year since the survey before on the same run."""
    before = [
        one for one in earlier if one.run == reading.run and reading.at_yr - one.at_yr > SAME_SURVEY
    ]
    if not before:
        return None
    last = max(before, key=lambda one: one.at_yr)
    return max(last.remaining_m - reading.remaining_m, 0.0) / (reading.at_yr - last.at_yr)


def _structural(size: str) -> float | None:
    dn = dn_from_nominal_size(size)
    return structural_minimum(dn) if dn in STRUCTURAL_MINIMUM_IN else None


def _life(left: float, needed: float | None, rate: float) -> float | None:
    if needed is None:
        return None
    life = float(remaining_life(left, needed, rate))
    return None if np.isnan(life) else life


@dataclass(frozen=True, slots=True)
class NextLook:
    """Years to the next look, and what says so: "model", "rule" (API 570) or "limit"."""

    years: float
    by: str
    run: int | None = None


def next_look(system: SystemInput, base: Assessments | None = None) -> NextLook:
    """The earliest of half the life that the model gives, half the life of every measured point,
    and the longest interval.

    Notes: the model speaks as it would without wall readings, the points speak for themselves. So
    a reading that happens to be thick puts nothing off, and a thinner one never does.
    """
    bare = assess_one(replace(system, walls=tuple(w for w in system.walls if w.is_baseline)))
    looks = [
        NextLook(MOST_YEARS_BETWEEN_LOOKS, "limit"),
        NextLook(float(bare.life_yr[0, 0]) / 2.0, "model"),
    ]
    for point in measured_points(system, base):
        looks.append(NextLook(point.interval_yr, "rule", point.reading.run))
        if point.leak_in_5_yr > 0.1:
            looks.append(NextLook(0.5 / point.leak_in_5_yr, "model", point.reading.run))
    return min(looks, key=lambda look: look.years)
