"""Where a thickness reading would change most: its expected worth before it is taken."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.assess import Assessments, assess_many, outlook
from registry.corrosion.batch import Batch, WallTable
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import DRESSED, IN_MODEL, METHODS, SystemInput
from registry.corrosion.normal import normal_cdf
from registry.corrosion.pockets import pressed_fill
from registry.corrosion.readings import Expected, expected_readings
from registry.corrosion.run_chances import run_chances
from registry.corrosion.score import BAND_EDGES
from registry.corrosion.seen import seen_runs
from registry.corrosion.types import Array
from registry.corrosion.voi import worth_of_information
from registry.corrosion.waterline import wedge_angle

VERTICAL: Final = ("riser",)
"""Roles of pipe that stands: it has no crown and no bottom, so no clock positions."""

OUTCOMES: Final = 24
"""Readings considered for each place, equally likely before it is taken."""


@dataclass(frozen=True, slots=True)
class WallPoint:
    """A place to measure the wall. clock: positions seen along the pipe, 12 at the crown; None on
    vertical pipe. worth: score points that decisions made with the reading are expected to be
    better by; changes: chance that it changes what is best to do.
    """

    run: int
    clock: tuple[float, float] | None
    text: str
    worth: float
    changes: float


def wall_points(
    system: SystemInput, base: Assessments | None = None, *, most: int = 3
) -> tuple[WallPoint, ...]:
    """Places where a scan would tell most, the most telling first.

    Notes: acting is taken to cost as much as a system at the edge of "act" has to lose; leaving it
    costs the score that is then true. Places of equal worth come by how likely their run leaks.
    """
    batch = batch_from([system])
    base = base or assess_many(batch)
    rows = [row for row, run in enumerate(system.runs) if run.material in IN_MODEL]
    if not rows:
        return ()
    chance = run_chances(batch, base)
    found = [_point(system, batch, base, row) for row in rows]
    return tuple(sorted(found, key=lambda p: (-round(p.worth, 4), -chance[p.run])))[:most]


def _point(system: SystemInput, batch: Batch, base: Assessments, row: int) -> WallPoint:
    prior, cost, likelihood = _states(batch, base, row)
    costs = np.stack([cost, np.full_like(cost, BAND_EDGES[-1])])
    worth = worth_of_information(prior, likelihood, costs)
    text = "Just above a pool at a low point" if system.has_pools else "Near a high or dead end"
    is_vertical = system.runs[row].role in VERTICAL
    return WallPoint(
        run=row,
        clock=None if is_vertical else clock_positions(system),
        text="All round, at mid height and below the top" if is_vertical else text,
        worth=max(worth.value, 0.0),
        changes=worth.changes_with,
    )


def _states(batch: Batch, base: Assessments, row: int) -> tuple[Array, Array, Array]:
    """Chance and cost of every state of theta and the run's factor, and chance of each outcome."""
    probe = _with_probe(batch, row)
    ahead = outlook(probe, np.array([5.0]), None)
    at = int(np.flatnonzero(ahead.seen.run == row)[0])
    own = ahead.belief.own[at]
    if row in batch.walls.run:
        own = base.belief.own[int(np.flatnonzero(np.unique(batch.walls.run) == row)[0])]
    else:
        middle = np.exp(-0.5 * np.linspace(-3.0, 3.0, own.shape[1]) ** 2)
        own = np.broadcast_to(middle / middle.sum(), own.shape)
    prior = base.weights[0][:, None] * own
    others = float(base.belief.site_survival(ahead.sites[0])[0])
    log = -(ahead.unread[0][:, 0].astype(np.float64)[:, None] + ahead.read[0][at]) + others
    lost = 100.0 * -np.expm1(log * float(batch.systems.consequence[0]))
    expected = expected_readings(probe, ahead.attack, seen_runs(probe), ahead.theta)
    reading = probe.walls.run.size - 1 - int((probe.walls.run[::-1] == row).argmax())
    likelihood = _outcomes(expected.on_m[reading], expected.on_spread_m[reading], expected, reading)
    flat = likelihood.reshape(likelihood.shape[0], -1)
    return (prior / prior.sum()).ravel(), lost.ravel(), flat


def _outcomes(on: Array, spread: Array, expected: Expected, reading: int) -> Array:

    wall = float(expected.off_m[reading, 0, 0])
    edges = np.linspace(0.0, wall, OUTCOMES)[:, None, None]
    q, off = float(expected.q[reading, 0, 0]), float(expected.off_spread_m[reading, 0, 0])
    below = q * normal_cdf((edges - on) / spread) + (1.0 - q) * normal_cdf((edges - wall) / off)
    bounds = np.concatenate([np.zeros_like(below[:1]), below, np.ones_like(below[:1])])
    result: Array = np.diff(bounds, axis=0)
    return result


def _with_probe(batch: Batch, row: int) -> Batch:
    """One more scan on a run, of the wall as new; only what it could read is of interest."""

    w = batch.walls
    at = int(np.searchsorted(w.run, row, side="right"))
    values = {
        "system": 0,
        "run": row,
        "at_yr": float(batch.systems.now_yr[0]),
        "remaining_m": float(batch.runs.wall_m[row]),
        "method": METHODS.index("full_scan"),
        "dressed": DRESSED.index("yes"),
        "error_m": np.nan,
    }
    columns = {name: np.insert(getattr(w, name), at, value) for name, value in values.items()}
    return replace(batch, walls=WallTable(**columns))


def clock_positions(system: SystemInput) -> tuple[float, float]:
    """Hours on the clock face of the two waterlines: beside pools, or beside pressed pockets."""
    a = system.assumptions
    if system.has_pools:
        from_bottom = float(np.asarray(wedge_angle(a.pool_fill))) * 6.0 / np.pi
        return (6.0 - from_bottom, 6.0 + from_bottom)
    fill = pressed_fill(a.pocket_fill, system.atmosphere_pa, system.pressure_pa)
    from_crown = float(np.asarray(wedge_angle(fill))) * 6.0 / np.pi
    return (from_crown, 12.0 - from_crown)
