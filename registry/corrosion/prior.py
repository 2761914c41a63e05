"""What is believed of a system's multiplier theta before its own evidence, on a grid of nodes.

Water-filled pipe: lognormal around 1. Gas-filled pipe is one of two sorts, and nobody knows which
until something shows it: pipe that holds water at its low points, lognormal around 1, or pipe
that drains well, lognormal around a small multiplier. The share of each is an assumption;
findings inside the pipe move it, and everything else moves the nodes of both alike.
"""

from typing import Final

import numpy as np

from registry.corrosion.batch import Batch
from registry.corrosion.types import Array

NODES: Final = 48
REACH: Final = 4.2
"""Nodes are equally spaced in ln(theta) over 4.2 standard deviations either way, and further down
in gas-filled systems: a trapezoid rule, spectrally accurate as long as the spacing is below the
width of what is integrated. Against 801 nodes, over ages 1 to 49, leak probabilities of 95 systems
in 100 are within 0.004 (wet; dry with leaks or none) and within 0.022 (dry with wall readings,
which settle theta more closely than the wider grid of gas-filled pipe can follow)."""

REACH_BELOW: Final = 2.5
"""Standard deviations that the nodes of gas-filled systems reach below those that drain well."""

_STEPS: Final = np.linspace(0.0, 1.0, NODES)


def theta_nodes(batch: Batch) -> Array:
    """Multipliers of the grid, (systems or 1, nodes): one row where all systems share it."""
    a, pools = batch.assumptions, batch.systems.has_pools
    pools = pools[:1] if pools.all() or not pools.any() else pools
    spread = np.atleast_1d(np.asarray(a.theta_spread, dtype=np.float64))
    below = np.log(np.asarray(a.drained_multiplier)) - REACH_BELOW * np.asarray(a.drained_spread)
    low = np.where(pools, np.minimum(below, -REACH * spread), -REACH * spread)[:, None]
    nodes: Array = np.exp(low + (REACH * spread[:, None] - low) * _STEPS)
    return nodes


def prior_weights(batch: Batch) -> Array:
    """Weights before evidence, (systems, nodes), rows summing to 1."""
    weights = np.exp(log_prior(batch, theta_nodes(batch)))
    return np.broadcast_to(weights, (batch.size, NODES))


def log_prior(batch: Batch, theta: Array, *, with_findings: bool = False) -> Array:
    """Logarithm of the weights, (systems or 1, nodes).

    Equation: (1 - d) N(ln theta; 0, s) + d N(ln theta; ln m, s_m), d the share that drains well
    (0 in water-filled pipe), m its multiplier and s_m the spread of that.
    """
    a = batch.assumptions
    spread, below, multiplier = (
        np.atleast_1d(np.asarray(value, dtype=np.float64))[:, None]
        for value in (a.theta_spread, a.drained_spread, a.drained_multiplier)
    )
    share = (_share_after_findings(batch) if with_findings else _share(batch))[:, None]
    log_theta = np.log(theta)
    holds = np.exp(-0.5 * (log_theta / spread) ** 2) / spread
    density = (1.0 - share) * holds
    if share.any():
        off = (log_theta - np.log(multiplier)) / below
        density = density + share * np.exp(-0.5 * off**2) / below
    density = np.maximum(density, _LEAST)
    result: Array = np.log(density / density.sum(axis=1, keepdims=True))
    return result


_LEAST: Final = 1e-300


def _share(batch: Batch) -> Array:
    """Share of systems like each that drains well before anything was seen, (systems or 1,)."""
    pools = batch.systems.has_pools
    if np.ndim(batch.assumptions.drained_share) == 0 and (pools.all() or not pools.any()):
        pools = pools[:1]
    return np.where(pools, batch.assumptions.drained_share, 0.0)


def _share_after_findings(batch: Batch) -> Array:
    """The same once each look inside that found traces of water, or none, is counted."""
    s, a = batch.systems, batch.assumptions
    if not (s.found_wet.any() or s.found_clear.any()):
        return _share(batch)
    holds, drains = np.asarray(a.traces_if_holding), np.asarray(a.traces_if_drained)
    odds = (drains / holds) ** s.found_wet * ((1.0 - drains) / (1.0 - holds)) ** s.found_clear
    share = np.where(s.has_pools, a.drained_share, 0.0)
    result: Array = share * odds / (share * odds + 1.0 - share)
    return result
