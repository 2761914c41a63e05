"""The ledger: what each run was exposed to, as a function of time.

Between two rows the content follows dy/dt = L (y_s - y) - k y: a supply of y_s turns it over at L
per year, the pipe takes k per year. In water-filled pipe what a fill trapped decays; gas-filled
pipe settles where supply and consumption meet. The exposure is the integral of y over time: years
of pure oxygen, or years for which sites were fed by water. The last row goes on.
"""

from dataclasses import dataclass

import numpy as np

from registry.corrosion.timeline import Index, Stretches, Timeline
from registry.corrosion.types import Array


def span_integral(oxygen: Array, settled: Array, decay: Array, years: Array) -> Array:
    """Integral of the oxygen fraction over a span, yr.

    Equation: y_eq t + (y_0 - y_eq) (1 - exp(-kappa t))/kappa; y_0 t where kappa is 0.
    """
    gone = -np.expm1(-decay * years)
    closed = decay <= 0
    if closed.any():
        transient = np.where(closed, years, gone / np.where(closed, 1.0, decay))
    else:
        transient = np.divide(gone, decay, out=gone)
    transient *= oxygen - settled
    transient += settled * years
    return transient


def span_end(oxygen: Array, settled: Array, decay: Array, years: Array) -> Array:
    """Oxygen fraction at the end of a span."""
    result: Array = settled + (oxygen - settled) * np.exp(-decay * years)
    return result


@dataclass(frozen=True)
class Exposure:
    """Cumulative exposure of many owners. Rows are sorted by owner, then start."""

    timeline: Timeline
    oxygen: Array
    settled: Array
    decay: Array
    before: Array

    def at(self, owner: Index | slice, time: Array) -> Array:
        """Cumulative exposure at `time` [yr]; shapes as Timeline.locate."""
        if self.oxygen.size == 0:
            return np.zeros(np.shape(time))
        if isinstance(owner, slice) and time.ndim == 2:
            return self._of_all(time)
        return self._found(owner, time)

    def _of_all(self, time: Array) -> Array:
        """Of all owners at rows of times: most rows lie beyond every owner's last row, which need
        not be searched for."""
        beyond = (time >= self.timeline.last_start).all(axis=1)
        if (self.timeline.count == 0).any() or not beyond.any():
            return self._found(slice(None), time)
        out = np.empty_like(time)
        row = self.timeline.last
        years = time[beyond] - self.timeline.start_yr[row]
        part = span_integral(self.oxygen[row], self.settled[row], self.decay[row], years)
        out[beyond] = part + self.before[row]
        if not beyond.all():
            out[~beyond] = self._found(slice(None), time[~beyond])
        return out

    def _found(self, owner: Index | slice, time: Array) -> Array:
        span, inside = self.timeline.locate(owner, time)
        years = np.maximum(time - self.timeline.start_yr[span], 0.0)
        part = span_integral(self.oxygen[span], self.settled[span], self.decay[span], years)
        result: Array = np.where(inside, self.before[span] + part, 0.0)
        return result

    def oxygen_at(self, system: Index, time: Array) -> Array:
        """Oxygen fraction by the ledger at `time`; NaN before its first span."""
        if self.oxygen.size == 0:
            return np.full(np.shape(time), np.nan)
        span, inside = self.timeline.locate(system, time)
        years = np.maximum(time - self.timeline.start_yr[span], 0.0)
        now = span_end(self.oxygen[span], self.settled[span], self.decay[span], years)
        return np.where(inside, now, np.nan)


def build_exposure(
    *,
    timeline: Timeline,
    oxygen: Array,
    makeup_oxygen: Array,
    turnover_per_yr: Array,
    consumption_per_yr: Array,
) -> Exposure:
    """The ledger of many runs or systems, ready to be asked for any time.

    Parameters: timeline of the rows; oxygen, makeup_oxygen, turnover_per_yr (rows,);
    consumption_per_yr (owners,).
    """
    decay = turnover_per_yr + consumption_per_yr[timeline.owner]
    supplied = makeup_oxygen * turnover_per_yr
    settled = np.divide(supplied, decay, out=np.zeros_like(decay), where=decay > 0)
    spans = span_integral(oxygen, settled, decay, timeline.lengths())
    return Exposure(timeline, oxygen, settled, decay, timeline.sum_before(spans))


@dataclass(frozen=True)
class WaterDoses:
    """Oxygen brought dissolved, kg per m3 of bore, step by step. Consumed at once (days)."""

    timeline: Timeline
    up_to: Array
    silent: Stretches

    def at(self, system: Index | slice, time: Array) -> Array:
        """Cumulative dissolved oxygen brought in by `time`; shapes as Timeline.locate."""
        total = self.silent.at(system, time)
        if self.up_to.size == 0:
            return total
        row, inside = self.timeline.locate(system, time)
        result: Array = total + np.where(inside, self.up_to[row], 0.0)
        return result


def build_water(*, timeline: Timeline, amount: Array, silent: Stretches) -> WaterDoses:
    """Water doses of many systems; `amount` [kg per m3 of bore] of each row."""
    return WaterDoses(timeline, timeline.sum_before(amount) + amount, silent)


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
