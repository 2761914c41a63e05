"""Rows on the time axes of many systems: which row holds at a time, sums up to it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from registry.corrosion.types import Array

Index = NDArray[np.intp]

STRIDE: Final = 8192.0
"""Years from one system to the next on the common axis that one binary search uses."""

SHIFT: Final = 4096.0


def _common_axis(owner: Index, time: Array) -> Array:
    """Where rows stand on one axis of all systems: nearly, as the sums are rounded. Whoever uses it
    looks at the times themselves where they may have fallen together."""
    axis: Array = owner * STRIDE + (time + SHIFT)
    return axis


def time_order(owner: Index, start_yr: Array) -> Index:
    """Order by system, then exactly by when rows begin; what begins at once stays as it was."""
    order: Index = np.argsort(_common_axis(owner, start_yr), kind="stable")
    mine, begun = owner[order], start_yr[order]
    if ((mine[1:] == mine[:-1]) & (begun[1:] < begun[:-1])).any():
        order = np.lexsort((start_yr, owner))
    return order


def segment_bounds(owner: Index, size: int) -> tuple[Index, Index]:
    """First row and number of rows of each of `size` systems in a sorted owner column."""
    edges = np.searchsorted(owner, np.arange(size + 1))
    return edges[:-1], np.diff(edges)


@dataclass(frozen=True)
class Timeline:
    """Rows sorted by system, then by when they begin; each holds until the next of its system."""

    owner: Index
    start_yr: Array
    first: Index
    count: Index
    first_start: Array
    last: Index
    last_start: Array
    keys: Array

    @classmethod
    def of(cls, owner: Index, start_yr: Array, systems: int) -> "Timeline":
        first, count = segment_bounds(owner, systems)
        last = np.maximum(first + count - 1, 0)
        first_start, last_start = np.full(systems, np.inf), np.full(systems, np.inf)
        has = count > 0
        first_start[has] = start_yr[first[has]]
        last_start[has] = start_yr[last[has]]
        keys = _common_axis(owner, start_yr)
        return cls(owner, start_yr, first, count, first_start, last, last_start, keys)

    def locate(self, system: Index | slice, time: Array) -> tuple[Index, NDArray[np.bool_]]:
        """Row that holds at `time`, and whether there is one (row 0 where there is none).

        Parameters: system (n,) and time (n,); or all systems, slice(None), and time (m, systems).
        Notes: most questions are about times after the last row or before the first; only the
        others are searched for, over all systems in one binary search.
        """
        inside = time >= self.first_start[system]
        row = np.where(inside, self.last[system], 0)
        between = np.nonzero(inside & (time < self.last_start[system]))
        if between[0].size:
            which = np.broadcast_to(np.arange(self.first.size)[system], time.shape)[between]
            row[between] = self._search(which, time[between])
        return row, inside

    def _search(self, system: Index, time: Array) -> Index:
        """Rows that hold at times between the first and the last row of their systems."""
        wanted = _common_axis(system, time)
        row: Index = np.searchsorted(self.keys, wanted, side="right") - 1
        while (late := self.start_yr[row] > time).any():
            row = row - late
        return row

    def lengths(self) -> Array:
        """Years each row holds; 0 for the last of a system, which is open."""
        years = np.zeros_like(self.start_yr)
        if years.size > 1:
            same = self.owner[1:] == self.owner[:-1]
            years[:-1] = np.where(same, np.diff(self.start_yr), 0.0)
        return years

    def sum_before(self, values: Array) -> Array:
        """Sum of the rows before each row within its own system; `values` are not negative."""
        total = np.concatenate(([0.0], np.cumsum(values)))
        before: Array = np.maximum(total[:-1] - total[self.first[self.owner]], 0.0)
        return before


@dataclass(frozen=True)
class Stretches:
    """Constant rates where the ledger is silent: from installation to its first row, and on top
    of its last row after `now`. All (systems,)."""

    unknown_from_yr: Array
    known_from_yr: Array
    unknown_rate: Array
    now_yr: Array
    future_rate: Array

    def at(self, system: Index | slice, time: Array) -> Array:
        """Cumulative amount of both stretches at `time`."""
        begin, end = self.unknown_from_yr[system], self.known_from_yr[system]
        unknown = np.clip(time - begin, 0.0, np.maximum(end - begin, 0.0))
        future = np.maximum(time - self.now_yr[system], 0.0)
        total: Array = self.unknown_rate[system] * unknown + self.future_rate[system] * future
        return total
