"""From depths of attack to leaks expected: Gumbel tails summed over patches, runs and systems."""

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

SLOW: Final = 80.0
"""Wall over (Gumbel scale times depth) above which a tail counts for nothing (1e-35): keeps
exponentials in the range of single precision, where they are fast."""

LEAST_REDUCED: Final = 1e-9
"""Least wall over (Gumbel scale times depth): keeps a tail of infinite depth finite."""

Precision = type[np.float32] | type[np.float64]
AnyFloats = NDArray[Any]

SINGLE: Final = np.float32
"""Sums over patches are done in single precision: against double precision no probability moves
by more than 2e-6."""

CHUNK: Final = 4096
"""Runs worked on at once, so that runs times nodes stay in a processor's second-level cache."""


def patch_tail(reduced: Array) -> Array:
    """Chance-like tail of a patch's deepest pit, 1/(exp(q) - 1), dimensionless.

    Parameters: reduced q : wall over (Gumbel scale times mean depth).
    Notes: the Gumbel tail exp(-q) to 1 % for q above 4.6 and 0.01 % above 9.2, where leaks begin.
    A plain exp(-q) flattens once the mean depth nears twice the wall, and with it the hazard;
    this one goes on in proportion to depth and is convex in it, so deeper is always worse.
    """
    result: Array = 1.0 / (np.exp(np.clip(reduced, LEAST_REDUCED, SLOW)) - 1.0)
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
    reduced: Array,
    weight: Array,
    theta: Array,
    first: Index,
    count: Index,
    precision: Precision = SINGLE,
) -> AnyFloats:
    """Leaks expected in each system: (times, nodes, systems).

    Parameters: reduced (times, runs), wall over (Gumbel scale times depth) for theta 1; weight
    (runs,), patches times exp(location/scale); theta (1 or systems, nodes); precision of the sums.
    Notes: systems with the same number of runs are worked on together, runs along the middle
    axis, so that every inner loop is long and the sum over runs is one contraction.
    """
    inverse = np.ascontiguousarray(1.0 / theta.T, dtype=precision)[:, None, :]
    held = np.maximum(reduced, LEAST_REDUCED / inverse.min(), dtype=np.float64).astype(precision)
    weight = weight.astype(precision)
    out = np.zeros((reduced.shape[0], theta.shape[1], first.size), dtype=precision)
    for part, rows in _chunks(first, count):
        nodes = inverse if inverse.shape[2] == 1 else inverse[:, :, part]
        where = _as_slice(part)
        target = out[:, :, where]
        _sums_of_tails(np.take(held, rows, axis=1), weight[rows], nodes, target)
        if not isinstance(where, slice):
            out[:, :, where] = target
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


def _sums_of_tails(
    reduced: AnyFloats, weight: AnyFloats, inverse: AnyFloats, out: AnyFloats
) -> None:
    """Weighted tails summed over runs into `out`, (times, nodes, systems).

    Parameters: reduced (times, runs, systems), weight (runs, systems), inverse, 1/theta
    (nodes, 1, 1 or systems).
    """
    work = np.empty((inverse.shape[0], *weight.shape), dtype=out.dtype)
    most, one = out.dtype.type(SLOW), out.dtype.type(1.0)
    for at_time, sums in zip(reduced, out, strict=True):
        np.multiply(inverse, at_time, out=work)
        np.minimum(work, most, out=work)
        np.exp(work, out=work)
        np.subtract(work, one, out=work)
        np.divide(weight, work, out=work)
        work.sum(axis=1, out=sums)
