"""From depths of attack to leaks expected: Gumbel tails summed over patches, runs and systems."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from registry.corrosion.exposure import Index
from registry.corrosion.types import Array

SLOW: Final = 600.0
"""Exponents below -600 are held there: no such tail counts for anything, and exponentials that
end in subnormal numbers take a hundred times as long."""

LEAST_REDUCED: Final = 1e-9
"""Least wall over (Gumbel scale times depth): keeps a tail of infinite depth finite."""

CHUNK: Final = 4096
"""Runs worked on at once, so that runs times nodes stay in a processor's second-level cache."""


def patch_tail(reduced: Array) -> Array:
    """Chance-like tail of a patch's deepest pit, 1/(exp(q) - 1), dimensionless.

    Parameters: reduced q : wall over (Gumbel scale times mean depth).
    Notes: the Gumbel tail exp(-q) to 1 % for q above 4.6 and 0.01 % above 9.2, where leaks begin.
    A plain exp(-q) flattens once the mean depth nears twice the wall, and with it the hazard;
    this one goes on in proportion to depth and is convex in it, so deeper is always worse.
    """
    tail = np.exp(-np.clip(reduced, LEAST_REDUCED, SLOW))
    result: Array = tail / (1.0 - tail)
    return result


def per_system(values: Array, first: Index, count: Index) -> Array:
    """Sums of rows over each system's runs; 0 for a system without runs."""
    if values.shape[0] == 0:
        return np.zeros((first.size, *values.shape[1:]), dtype=values.dtype)
    sums: Array = np.add.reduceat(values, np.minimum(first, values.shape[0] - 1), axis=0)
    empty = count == 0
    if empty.any():
        sums[empty] = 0.0
    return sums


def system_intensities(
    reduced: Array, weight: Array, theta: Array, first: Index, count: Index
) -> Array:
    """Leaks expected in each system: (times, nodes, systems).

    Parameters: reduced (times, runs), wall over (Gumbel scale times depth) for theta 1; weight
    (runs,), patches times exp(location/scale); theta (1 or systems, nodes).
    Notes: systems with the same number of runs are worked on together, runs along the middle
    axis, so that every inner loop is long and the sum over runs is one contraction.
    """
    inverse = np.ascontiguousarray(1.0 / theta.T)[:, None, :]
    out = np.zeros((reduced.shape[0], theta.shape[1], first.size))
    for part, rows in _chunks(first, count):
        nodes = inverse if inverse.shape[2] == 1 else inverse[:, :, part]
        out[:, :, _as_slice(part)] = _chunk_intensities(reduced[:, rows], weight[rows], nodes)
    return out


def _chunks(first: Index, count: Index) -> Iterator[tuple[Index, Index]]:
    """Systems and the rows (runs, systems) of their runs, grouped by the number of runs."""
    for runs in np.unique(count[count > 0]):
        chosen = np.flatnonzero(count == runs)
        step = max(CHUNK // int(runs), 1)
        for begin in range(0, chosen.size, step):
            part = chosen[begin : begin + step]
            yield part, first[part] + np.arange(runs)[:, None]


def _as_slice(part: Index) -> Index | slice:
    """The same rows as a slice where they follow one another: much faster to write to."""
    begin, end = int(part[0]), int(part[-1]) + 1
    return slice(begin, end) if end - begin == part.size else part


def _chunk_intensities(reduced: Array, weight: Array, inverse: Array) -> Array:
    """reduced (times, runs, systems), weight (runs, systems), inverse (nodes, 1, 1 or systems)."""
    times, runs, systems = reduced.shape
    tails = np.empty((inverse.shape[0], runs, systems))
    rest = np.empty_like(tails)
    out = np.empty((times, inverse.shape[0], systems))
    for t in range(times):
        np.multiply(inverse, np.minimum(-reduced[t], -LEAST_REDUCED / inverse.min()), out=tails)
        np.maximum(tails, -SLOW, out=tails)
        np.exp(tails, out=tails)
        np.subtract(1.0, tails, out=rest)
        np.divide(tails, rest, out=tails)
        np.einsum("jks,ks->js", tails, weight, out=out[t])
    return out
