"""Runs whose wall was read: each has a factor of its own beside its system's multiplier.

So a reading tells more of its run than of the neighbours. Only runs that were read carry the
factor, on a small grid that is summed over; given theta the runs are independent, so every sum is
over one run alone.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from registry.corrosion.attack import Attack
from registry.corrosion.batch import Batch
from registry.corrosion.leaks import patch_tail
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

FACTORS: Final = 11
_STEPS: Final = np.linspace(-3.0, 3.0, FACTORS)
_DENSITY: Final = np.exp(-0.5 * _STEPS**2)
LOG_PRIOR: Final[Array] = np.log(_DENSITY / _DENSITY.sum())
"""Three standard deviations either way, equally spaced: a trapezoid rule."""


@dataclass(frozen=True)
class Seen:
    """run, system (read runs,); factor (read runs, factors); of_wall, row here of each reading."""

    run: Index
    system: Index
    factor: Array
    of_wall: Index

    @property
    def size(self) -> int:
        return int(self.run.size)

    def multipliers(self, theta: Array) -> Array:
        """theta times the run's factor, (read runs, nodes, factors)."""
        nodes = theta if theta.shape[0] == 1 else theta[self.system]
        result: Array = nodes[:, :, None] * self.factor[:, None, :]
        return result

    def expected(self, attack: Attack, depths: Array, theta: Array) -> Array:
        """Leaks expected on each once runs are `depths` (times, runs): (times, read, nodes, k)."""
        reduced = attack.reduced(depths[:, self.run], self.run)
        tails = patch_tail(reduced[:, :, None, None] / self.multipliers(theta)[None])
        result: Array = attack.weight(self.run)[None, :, None, None] * tails
        return result


def seen_runs(batch: Batch) -> Seen:
    run, of_wall = np.unique(batch.walls.run, return_inverse=True)
    system = batch.runs.system[run]
    spread = np.broadcast_to(np.asarray(batch.assumptions.run_spread, np.float64), batch.size)
    factor = np.exp(spread[system][:, None] * _STEPS)
    return Seen(run, system, factor, of_wall)
