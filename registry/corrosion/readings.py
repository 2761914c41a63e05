"""What a wall reading says: in millimetres, by how it was taken and whether it hit the attack."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.attack import Attack
from registry.corrosion.batch import Batch, Flags
from registry.corrosion.inputs import DRESSED, METHODS
from registry.corrosion.normal import normal_cdf
from registry.corrosion.pits import EULER_GAMMA
from registry.corrosion.seen import Seen
from registry.corrosion.types import Array

LEAST_WALL: Final = 0.02
"""Expected remaining wall is never taken below 2 % of the wall: a reading was possible."""

ROUGHNESS: Final = {"yes": 0.0, "no": 1.0, "unknown": 0.5}
"""Share of the roughness bias that counts by whether the spot was dressed. Assumed."""


@dataclass(frozen=True)
class Expected:
    """What readings were to be expected, on the attack and off it.

    on_m, on_spread_m (readings, nodes, factors); off_m, off_spread_m, q (readings, 1, 1).
    """

    on_m: Array
    on_spread_m: Array
    off_m: Array
    off_spread_m: Array
    q: Array
    read_m: Array

    def log_likelihood(self) -> Array:
        """ln of q N(m; w - L, s**2 + (v L)**2) + (1 - q) N(m; w, s**2)."""
        on = -0.5 * ((self.read_m - self.on_m) / self.on_spread_m) ** 2 - np.log(self.on_spread_m)
        off = -0.5 * ((self.read_m - self.off_m) / self.off_spread_m) ** 2
        off = off - np.log(self.off_spread_m)
        result: Array = np.logaddexp(np.log(self.q) + on, np.log1p(-self.q) + off)
        return result

    def chance_of_thinner(self) -> Array:
        """Chance of a reading as thin or thinner, (readings, nodes, factors)."""
        on = normal_cdf((self.read_m - self.on_m) / self.on_spread_m)
        off = normal_cdf((self.read_m - self.off_m) / self.off_spread_m)
        result: Array = self.q * on + (1.0 - self.q) * off
        return result


def is_of_this_pipe(batch: Batch) -> Flags:
    """Readings of the pipe that is there; one before its installation was of what it replaced."""
    w = batch.walls
    counts: Flags = w.at_yr >= batch.runs.installed_yr[w.run]
    return counts


def chance_on_attack(batch: Batch) -> Array:
    """Probability that each reading lies on the attack, by its method, (readings,)."""
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    by_method = [np.asarray(getattr(mine, f"on_attack_{name}")) for name in METHODS]
    columns = np.stack([np.broadcast_to(one, w.at_yr.shape) for one in by_method])
    chance: Array = np.clip(columns[w.method, np.arange(w.at_yr.size)], 1e-6, 1.0 - 1e-6)
    return chance


def gauge_errors(batch: Batch) -> Array:
    """Standard deviation of each reading: as stated, else as assumed."""
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    given = np.where(np.isnan(w.error_m), mine.gauge_error_m, w.error_m)
    errors: Array = np.maximum(given, 1e-6)
    return errors


def plain_spread(batch: Batch) -> Array:
    """Standard deviation of a reading of sound wall: the gauge's and the mill's, (readings,)."""
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    mill = mine.mill_spread * batch.runs.wall_m[w.run]
    spread: Array = np.hypot(
        gauge_errors(batch), np.where(batch.runs.has_baseline[w.run], 0.0, mill)
    )
    return spread


def roughness(batch: Batch) -> Array:
    """Share of the metal lost that each reading did not see, (readings,)."""
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    counts = np.array([ROUGHNESS[name] for name in DRESSED])[w.dressed]
    result: Array = counts * mine.rough_bias
    return result


def true_losses(batch: Batch) -> Array:
    """Metal lost at the spot of each reading, with what roughness hid, (readings,)."""
    w, wall = batch.walls, batch.runs.wall_m[batch.walls.run]
    mine = batch.assumptions.for_systems(w.system)
    seen, hidden = np.maximum(wall - w.remaining_m, 0.0), roughness(batch)
    most = np.asarray(mine.rough_bias_most_m)
    result: Array = np.minimum(seen + np.minimum(hidden / (1.0 - hidden) * seen, most), wall)
    return result


def expected_readings(batch: Batch, attack: Attack, seen: Seen, theta: Array) -> Expected:
    """A reading at or above the wall counts as the wall: more of it is no news."""
    w = batch.walls
    mine = batch.assumptions.for_systems(w.system)
    wall = batch.runs.wall_m[w.run]
    pit = np.asarray(mine.pit_location) + EULER_GAMMA * np.asarray(mine.pit_scale)
    deepest = np.where(w.method == METHODS.index("full_scan"), pit, 1.0)
    depth = attack.depth(w.run, w.at_yr) * deepest
    attacked = depth[:, None, None] * seen.multipliers(theta)[seen.of_wall]
    lost = np.maximum(attacked - attack.zinc_m[w.run][:, None, None], 0.0)
    lost = np.minimum(lost, ((1.0 - LEAST_WALL) * wall)[:, None, None])
    most = _column(mine.rough_bias_most_m, w.at_yr)
    hidden = np.minimum(roughness(batch)[:, None, None] * lost, most)
    plain = plain_spread(batch)[:, None, None]
    local = _column(mine.local_spread, w.at_yr)
    return Expected(
        on_m=wall[:, None, None] - lost + hidden,
        on_spread_m=np.hypot(plain, local * lost),
        off_m=wall[:, None, None],
        off_spread_m=plain,
        q=chance_on_attack(batch)[:, None, None],
        read_m=np.minimum(w.remaining_m, wall)[:, None, None],
    )


def _column(value: object, like: Array) -> Array:
    return np.broadcast_to(np.asarray(value, dtype=np.float64), like.shape)[:, None, None]
