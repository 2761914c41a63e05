"""The number of sites of attack without oxygen: two Gammas, and what leaks make of them.

Leaks of a system are a Poisson process of intensity lambda1(theta, t) + rho e(t), rho the number of
sites. With leaks at t_i and a watch over which L1 and x were expected, the likelihood at a node of
theta is prod(lambda1_i + rho e_i) exp(-L1 - rho x). The product is a polynomial in rho, and under
Gamma(a, b) the mean of rho**m exp(-rho x) is b**a G(a + m)/G(a) (b + x)**-(a + m): no integral is
left. Without leaks that is one power.
"""

from dataclasses import dataclass

import numpy as np

from registry.corrosion.batch import Batch
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array


@dataclass(frozen=True)
class Gammas:
    """Shape and rate of the quiet and the active Gamma, (systems, 2), and prior log odds."""

    shape: Array
    rate: Array
    log_odds: Array


def gammas_of(batch: Batch) -> Gammas:
    a, size = batch.assumptions, batch.size
    shape = _pair(a.quiet_shape, a.active_shape, size)
    mean = _pair(a.quiet_sites, a.active_sites, size)
    share = np.broadcast_to(np.asarray(a.active_share, dtype=np.float64), size)
    return Gammas(shape, shape / mean, np.log(share) - np.log1p(-share))


def _pair(quiet: object, active: object, size: int) -> Array:
    columns = (np.broadcast_to(np.asarray(one, dtype=np.float64), size) for one in (quiet, active))
    return np.column_stack(list(columns))


def log_shares(log_odds: Array) -> Array:
    """ln of the shares of quiet and active, (n, 2)."""
    return np.column_stack([-np.logaddexp(0.0, log_odds), -np.logaddexp(0.0, -log_odds)])


def without_leaks(gammas: Gammas, log_odds: Array, watched: Array) -> Array:
    """Shares of quiet and active after a watch without leaks, (systems, 2)."""
    log = log_shares(log_odds) - gammas.shape * np.log1p(watched[:, None] / gammas.rate)
    share = np.exp(log - log.max(axis=1, keepdims=True))
    result: Array = share / share.sum(axis=1, keepdims=True)
    return result


@dataclass(frozen=True)
class Leaky:
    """Systems with leaks: polynomials in rho, (leaky systems, nodes, powers), each scaled to a
    largest coefficient of one; log_scale (leaky systems, nodes) says by what."""

    system: Index
    power: Array
    log_scale: Array

    @property
    def most(self) -> int:
        return int(self.power.shape[2]) - 1

    def log_terms(self, gammas: Gammas, log_odds: Array, watched: Array) -> Array:
        """ln of every term of the likelihood, (leaky systems, nodes, 2, powers)."""
        shape, rate = gammas.shape[self.system], gammas.rate[self.system]
        m = np.arange(self.most + 1)
        steps = np.log(shape[:, :, None] + m[None, None, :-1])
        rising = np.concatenate([np.zeros((*shape.shape, 1)), np.cumsum(steps, axis=2)], axis=2)
        after = np.log(rate + watched[self.system][:, None])
        moment = (shape * np.log(rate))[:, :, None] + rising
        moment = moment - (shape[:, :, None] + m) * after[:, :, None]
        moment = moment + log_shares(log_odds[self.system])[:, :, None]
        with np.errstate(divide="ignore"):
            power = np.log(self.power) + self.log_scale[:, :, None]
        result: Array = power[:, :, None, :] + moment[:, None, :, :]
        return result


def leaky_of(owner: Index, oxygen: Array, other: Array) -> Leaky:
    """Multiply out prod(lambda1_i + rho e_i) for each system.

    Parameters: owner, system of each leak, sorted; oxygen lambda1_i (leaks, nodes); other e_i
    (leaks,). Notes: scaled at every step, so that a sieve does not underflow.
    """
    system, first, count = np.unique(owner, return_index=True, return_counts=True)
    power = np.zeros((system.size, oxygen.shape[1], int(count.max(initial=0)) + 1))
    power[:, :, 0] = 1.0
    log_scale = np.zeros((system.size, oxygen.shape[1]))
    for rank in range(power.shape[2] - 1):
        has = np.flatnonzero(count > rank)
        leak = first[has] + rank
        before = power[has]
        after = before * oxygen[leak][:, :, None]
        after[:, :, 1:] += before[:, :, :-1] * other[leak][:, None, None]
        scale = after.max(axis=2)
        power[has] = after / scale[:, :, None]
        log_scale[has] += np.log(scale)
    return Leaky(system, power, log_scale)


def log_sum(log: Array, axes: tuple[int, ...]) -> Array:
    top = log.max(axis=axes, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    total = np.log(np.exp(log - top).sum(axis=axes))
    result: Array = total + np.squeeze(top, axis=axes)
    return result
