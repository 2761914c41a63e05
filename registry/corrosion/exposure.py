"""The oxygen ledger: what each system's gas exposed its pipe to, as a function of time.

Between two events the gas follows dy/dt = L (y_s - y) - k y: make-up of oxygen y_s turns it over
at L per year, the pipe consumes it at k per year. A water-filled system has L = 0 and what a fill
trapped decays; a gas-filled one settles where supply and consumption meet. The exposure is the
integral of y over time, in years of pure oxygen. Depth of attack is linear in it.

Three stretches: an assumed constant rate before the ledger begins, the spans of the ledger (the
last one goes on), and an assumed rate of further events after `now`.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from registry.corrosion.types import Array

Index = NDArray[np.intp]

_STRIDE: Final = 8192.0
_SHIFT: Final = 4096.0
"""Years from one system to the next on the common axis that one binary search uses."""


def span_integral(oxygen: Array, settled: Array, decay: Array, years: Array) -> Array:
    """Integral of the oxygen fraction over a span, yr.

    Equation: y_eq t + (y_0 - y_eq) (1 - exp(-kappa t))/kappa; y_0 t where kappa is 0.
    """
    gone = -np.expm1(-decay * years)
    with np.errstate(divide="ignore", invalid="ignore"):
        transient = np.where(decay > 0, gone / decay, years)
    result: Array = settled * years + (oxygen - settled) * transient
    return result


def span_end(oxygen: Array, settled: Array, decay: Array, years: Array) -> Array:
    """Oxygen fraction at the end of a span."""
    result: Array = settled + (oxygen - settled) * np.exp(-decay * years)
    return result


@dataclass(frozen=True)
class Exposure:
    """Cumulative exposure of many systems. Spans are sorted by system, then start."""

    span_system: Index
    start_yr: Array
    oxygen: Array
    settled: Array
    decay: Array
    before: Array
    first: Index
    count: Index
    unknown_from_yr: Array
    known_from_yr: Array
    unknown_rate: Array
    now_yr: Array
    future_rate: Array

    def at(self, system: Index, time: Array) -> Array:
        """Cumulative exposure of `system` at `time` [yr], both (n,): years of pure oxygen."""
        total = self.unknown_rate[system] * _between(
            time, self.unknown_from_yr[system], self.known_from_yr[system]
        )
        total = total + self.future_rate[system] * np.maximum(time - self.now_yr[system], 0.0)
        if self.start_yr.size == 0:
            return total
        span, inside = _last_before(
            self.span_system, self.start_yr, self.first, self.count, system, time
        )
        years = np.maximum(time - self.start_yr[span], 0.0)
        part = span_integral(self.oxygen[span], self.settled[span], self.decay[span], years)
        result: Array = total + np.where(inside, self.before[span] + part, 0.0)
        return result

    def oxygen_at(self, system: Index, time: Array) -> Array:
        """Oxygen fraction by the ledger at `time`; NaN before its first span."""
        if self.start_yr.size == 0:
            return np.full(np.shape(time), np.nan)
        span, inside = _last_before(
            self.span_system, self.start_yr, self.first, self.count, system, time
        )
        years = np.maximum(time - self.start_yr[span], 0.0)
        now = span_end(self.oxygen[span], self.settled[span], self.decay[span], years)
        return np.where(inside, now, np.nan)


def _between(time: Array, begin: Array, end: Array) -> Array:
    result: Array = np.clip(time - begin, 0.0, np.maximum(end - begin, 0.0))
    return result


def _last_before(
    owner: Index, start: Array, first: Index, count: Index, system: Index, time: Array
) -> tuple[Index, NDArray[np.bool_]]:
    """Row of each system's last start at or before `time`, and whether there is one.

    Most questions are about times after the last row or before the first; only the others are
    searched for, over all systems in one binary search on a common axis.
    """
    last = np.maximum(first + count - 1, 0)[system]
    has = (count > 0)[system]
    inside = has & (time >= start[first.clip(max=start.size - 1)][system])
    found = np.where(inside, last, 0)
    between = np.flatnonzero(inside & (time < start[last]))
    if between.size:
        keys = owner * _STRIDE + (start + _SHIFT)
        wanted = system[between] * _STRIDE + (time[between] + _SHIFT)
        found[between] = np.searchsorted(keys, wanted, side="right") - 1
    return found, inside


def segment_bounds(owner: Index, size: int) -> tuple[Index, Index]:
    """First row and number of rows of each of `size` systems in a sorted owner column."""
    edges = np.searchsorted(owner, np.arange(size + 1))
    return edges[:-1], np.diff(edges)


def running_sum(values: Array, first: Index, owner: Index) -> Array:
    """Sum of the rows before each row within its own system."""
    total = np.concatenate(([0.0], np.cumsum(values)))
    result: Array = total[:-1] - total[first[owner]]
    return np.maximum(result, 0.0)


def build_exposure(
    *,
    systems: int,
    span_system: Index,
    start_yr: Array,
    oxygen: Array,
    makeup_oxygen: Array,
    turnover_per_yr: Array,
    consumption_per_yr: Array,
    unknown_from_yr: Array,
    unknown_rate: Array,
    now_yr: Array,
    future_rate: Array,
) -> Exposure:
    """The ledger of many systems, ready to be asked for any time.

    Parameters: the span columns (n,), sorted by system then start; `consumption_per_yr` and the
    columns after it (systems,). The unknown stretch ends where a system's first span starts, or
    at `now` when it has none.
    """
    first, count = segment_bounds(span_system, systems)
    has = count > 0
    decay = turnover_per_yr + consumption_per_yr[span_system]
    with np.errstate(divide="ignore", invalid="ignore"):
        settled = np.where(decay > 0, makeup_oxygen * turnover_per_yr / decay, 0.0)
    start = np.asarray(start_yr, dtype=np.float64)
    years = _span_lengths(start, span_system)
    known_from = np.array(now_yr, dtype=np.float64)
    known_from[has] = start[first[has]]
    return Exposure(
        span_system=span_system,
        start_yr=start,
        oxygen=oxygen,
        settled=settled,
        decay=decay,
        before=running_sum(span_integral(oxygen, settled, decay, years), first, span_system),
        first=first,
        count=count,
        unknown_from_yr=unknown_from_yr,
        known_from_yr=known_from,
        unknown_rate=unknown_rate,
        now_yr=now_yr,
        future_rate=future_rate,
    )


def _span_lengths(start: Array, owner: Index) -> Array:
    """Years from each start to the next of the same system; 0 for the last, which is open."""
    years = np.zeros_like(start)
    if start.size > 1:
        same = owner[1:] == owner[:-1]
        years[:-1] = np.where(same, start[1:] - start[:-1], 0.0)
    return years


@dataclass(frozen=True)
class WaterDoses:
    """Oxygen brought dissolved, kg per m3 of bore, step by step. Consumed at once (days)."""

    owner: Index
    time_yr: Array
    before: Array
    amount: Array
    first: Index
    count: Index
    unknown_from_yr: Array
    known_from_yr: Array
    unknown_rate: Array
    now_yr: Array
    future_rate: Array

    def at(self, system: Index, time: Array) -> Array:
        """Cumulative dissolved oxygen brought in by `time`, kg per m3 of bore."""
        total = self.unknown_rate[system] * _between(
            time, self.unknown_from_yr[system], self.known_from_yr[system]
        )
        total = total + self.future_rate[system] * np.maximum(time - self.now_yr[system], 0.0)
        if self.time_yr.size == 0:
            return total
        row, inside = _last_before(self.owner, self.time_yr, self.first, self.count, system, time)
        result: Array = total + np.where(inside, self.before[row] + self.amount[row], 0.0)
        return result


def build_water(
    *, systems: int, owner: Index, time_yr: Array, amount: Array, **stretches: Any
) -> WaterDoses:
    """Water doses of many systems; rows sorted by system then time."""
    first, count = segment_bounds(owner, systems)
    before = running_sum(amount, first, owner)
    return WaterDoses(owner, time_yr, before, amount, first, count, **stretches)


@dataclass(frozen=True)
class Balance:
    """Where the oxygen of each span went, in units of the pipe's gas content."""

    held: Array
    made_up: Array
    consumed: Array
    leaked: Array
    left: Array


def span_balance(
    oxygen: Array, makeup: Array, turnover: Array, consumption: Array, years: Array
) -> Balance:
    """Oxygen at the start plus made up, against consumed, leaked and left at the end."""
    decay = turnover + consumption
    settled = np.divide(makeup * turnover, decay, out=np.zeros_like(decay), where=decay > 0)
    integral = span_integral(oxygen, settled, decay, years)
    return Balance(
        held=oxygen,
        made_up=makeup * turnover * years,
        consumed=consumption * integral,
        leaked=turnover * integral,
        left=span_end(oxygen, settled, decay, years),
    )


def expected_fills_per_year(fills: float, years: float, prior: float = 1.0) -> float:
    """Fills a year to expect: the record's, with the assumed rate weighing as two years of it."""
    return (fills + 2.0 * prior) / (max(years, 0.0) + 2.0)
