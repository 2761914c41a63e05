"""Reasons that add up: what each of a few drivers contributes, whatever the order they come in.

Drivers multiply, so a score without one of them depends on the others. The Shapley value is the
mean of what a driver adds over all orders in which they could be added to the good state; its sum
over the drivers is the difference between the two states, with nothing left over.
Source: Shapley, A value for n-person games, 1953; from memory.
"""

from math import factorial

import numpy as np

from registry.corrosion.types import Array


def shapley_values(value: Array) -> Array:
    """Contribution of each of n drivers, (n, ...), from values of all their sets, (2**n, ...).

    Parameters: value[mask], what the set of drivers whose bits are set in `mask` gives.
    Example: two drivers that only work together share alike
    >>> shapley_values(np.array([0.0, 0.0, 0.0, 1.0])).tolist()
    [0.5, 0.5]
    """
    n = value.shape[0].bit_length() - 1
    if value.shape[0] != 1 << n:
        raise ValueError(f"value holds {value.shape[0]} sets; it must hold a power of two")
    masks = np.arange(1 << n)
    size = np.array([int(mask).bit_count() for mask in masks])
    share = np.array([factorial(k) * factorial(n - k - 1) / factorial(n) for k in range(n)])
    found = np.zeros((n, *value.shape[1:]))
    for driver in range(n):
        without = masks[(masks >> driver) & 1 == 0]
        gain = value[without | (1 << driver)] - value[without]
        found[driver] = np.tensordot(share[size[without]], gain, axes=1)
    return found


def rounded_to_sum(parts: Array, total: float, digits: int = 1) -> list[float]:
    """Parts rounded so that they add up to the total as it is shown: the largest remainders first.

    Example:
    >>> rounded_to_sum(np.array([0.35, 0.35, 0.34]), 1.04)
    [0.4, 0.3, 0.3]
    """
    step = 10.0**digits
    scaled = np.asarray(parts, dtype=np.float64) * step
    whole = np.floor(scaled)
    missing = round(total * step) - int(whole.sum())
    order = np.argsort(-(scaled - whole), kind="stable")
    if 0 <= missing <= order.size:
        whole[order[:missing]] += 1
    elif order.size:
        whole[order[0]] += missing
    return [float(one) / step for one in whole]
