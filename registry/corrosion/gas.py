"""Composition and amount of the gas in a pipe: purging, sweeping, leaking, recovering.

Ideal gas. Oxygen is a mole fraction of dry gas; argon counts as nitrogen.
"""

import math

import numpy as np

from registry.corrosion.constants import (
    GAS_CONSTANT,
    GAS_STATE_PRESSURE,
    GAS_STATE_TEMPERATURE,
    ISA_BOTTOM,
    ISA_EXPONENT,
    ISA_LAPSE,
    ISA_TOP,
    OXYGEN_IN_DRY_AIR,
    STANDARD_ATMOSPHERE,
)
from registry.corrosion.types import (
    Real,
    plain,
    require,
    require_fraction,
    require_not_negative,
    require_positive,
)


class TargetUnreachable(ValueError):
    """The feed gas holds at least as much oxygen as the target allows."""


def site_atmosphere(altitude: Real) -> Real:
    """Atmospheric pressure at a site, Pa absolute.

    Equation: P = P0 (1 - k h)**n with P0 101 325 Pa, k 2.25577e-5 1/m, n 5.25588.
    Parameters: altitude : float or array, height above sea level [m], -610 to 11 000.
    Raises: ValueError outside that range.
    Notes: weather moves the pressure by about 3 % either way.
    Example:
    >>> round(site_atmosphere(1609.0))
    83431

    Source: ISO 2533:1975, standard atmosphere below 11 km.
    """
    height = np.asarray(altitude, dtype=float)
    ok = ~((height < ISA_BOTTOM) | (height > ISA_TOP))
    require(ok, "altitude", altitude, f"from {ISA_BOTTOM:.0f} to {ISA_TOP:.0f} m")
    return plain(STANDARD_ATMOSPHERE * (1.0 - ISA_LAPSE * height) ** ISA_EXPONENT)


def absolute_pressure(gauge: Real, atmosphere: Real = STANDARD_ATMOSPHERE) -> Real:
    """Absolute pressure of a gauge reading at a site, Pa. A full vacuum is the least possible."""
    pressure = np.asarray(gauge) + np.asarray(atmosphere)
    require(~(pressure < 0), "gauge", gauge, "no lower than a full vacuum")
    return plain(pressure)


def n2_percent(oxygen: Real) -> Real:
    """Nitrogen as a field meter shows it, percent: 100 minus the oxygen (argon counted in)."""
    return plain(100.0 * (1.0 - np.asarray(oxygen)))


def oxygen_from_n2_percent(percent: Real) -> Real:
    """Oxygen mole fraction behind a meter's nitrogen reading in percent."""
    array = np.asarray(percent, dtype=float)
    require(~((array < 0) | (array > 100)), "n2_percent", percent, "between 0 and 100")
    return plain(1.0 - array / 100.0)


def purged_fraction(
    start: Real, feed: Real, pressure_ratio: Real, *, cycles: Real = 1.0, mixing: Real = 1.0
) -> Real:
    """Oxygen mole fraction after `cycles` fills and vents.

    Equation: y_n = y_s + (y_0 - y_s) r**(eta n), r = P_low / P_high in absolute pressures.
    Parameters: start y_0, feed y_s : [mol/mol]; pressure_ratio r : 0 < r < 1; cycles n : may be
    fractional; mixing eta : mixing index, 1 = gas fully mixed before it is vented or read.
    All broadcast. NaN in gives NaN out.
    Notes: eta is our index for what full mixing leaves out: below 1 the new gas reached only part
    of the old, above 1 it pushed the old gas out ahead of it.
    Example: a first fill of an air-filled pipe to 30 psig with pure nitrogen
    >>> round(100 * purged_fraction(0.2095, 0.0, 14.696 / 44.696), 3)
    6.888

    Source: Crowl & Louvar, Chemical Process Safety, ch. 7, pressure and vacuum purging, extended
    to impure feed by a mole balance over one cycle; the exponent eta is our own.
    """
    require_fraction(start=start, feed=feed)
    require_positive(pressure_ratio=pressure_ratio, mixing=mixing)
    require(~(np.asarray(pressure_ratio) >= 1), "pressure_ratio", pressure_ratio, "below 1")
    require_not_negative(cycles=cycles)
    left = np.asarray(pressure_ratio, dtype=float) ** (np.asarray(mixing) * np.asarray(cycles))
    return plain(np.asarray(feed) + (np.asarray(start) - np.asarray(feed)) * left)


def cycles_needed(
    start: Real, feed: Real, target: Real, pressure_ratio: Real, *, mixing: Real = 1.0
) -> Real:
    """Fill-and-vent cycles to bring oxygen from `start` down to `target`, not rounded.

    Equation: n = ln[(y_0 - y_s) / (y_f - y_s)] / (eta ln(1/r)).
    Returns: 0 where the start is already at or below the target, infinity where the feed can
    never reach it (y_s >= y_f).
    Example:
    >>> round(cycles_needed(0.21, 0.0, 1e-6, 20 / 760), 2)
    3.37

    Source: Crowl & Louvar, Chemical Process Safety, ch. 7, examples on vacuum and pressure
    purging; impure feed by mole balance.
    """
    require_fraction(start=start, feed=feed, target=target)
    require_positive(pressure_ratio=pressure_ratio, mixing=mixing)
    y0, ys, yf = np.broadcast_arrays(
        np.asarray(start, dtype=float), np.asarray(feed), np.asarray(target)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        raw = np.log((y0 - ys) / (yf - ys)) / (-np.asarray(mixing) * np.log(pressure_ratio))
    cycles = np.where(yf <= ys, math.inf, raw)
    nan = np.isnan(y0) | np.isnan(ys) | np.isnan(yf)
    return plain(np.where(nan, math.nan, np.where(y0 <= yf, 0.0, cycles)))


def whole_cycles_needed(
    start: float, feed: float, target: float, pressure_ratio: float, *, mixing: float = 1.0
) -> int:
    """Cycles to reach the target, rounded up; raises TargetUnreachable naming the asymptote."""
    cycles = float(cycles_needed(start, feed, target, pressure_ratio, mixing=mixing))
    if math.isinf(cycles):
        raise TargetUnreachable(
            f"feed gas of {n2_percent(feed):.2f} % nitrogen can approach but never reach the"
            f" target of {n2_percent(target):.2f} %"
        )
    return math.ceil(cycles - 1e-12)


def fitted_mixing_index(start: Real, after: Real, feed: Real, pressure_ratio: Real) -> Real:
    """Mixing index that explains one measured fill, dimensionless.

    Equation: eta = ln[(y_0 - y_s) / (y_1 - y_s)] / ln(1/r).
    Returns: NaN where no index can explain the readings (oxygen at or below the feed's, or the
    start not above the feed's); negative where oxygen rose.
    Source: own derivation, `purged_fraction` solved for eta.
    """
    y0, y1, ys = (np.asarray(v, dtype=float) for v in (start, after, feed))
    with np.errstate(divide="ignore", invalid="ignore"):
        index = np.log((y0 - ys) / (y1 - ys)) / -np.log(pressure_ratio)
    return plain(np.where((y1 > ys) & (y0 > ys), index, np.nan))


def standard_volume(
    volume: Real, low: Real, high: Real, *, temperature: Real = GAS_STATE_TEMPERATURE
) -> Real:
    """Gas to raise a pipe of `volume` from `low` to `high`, m3 at 101.325 kPa and 21.1 C.

    Equation: V_std = V (P_high - P_low) / P_std * T_std / T.
    Parameters: volume [m3]; low, high [Pa absolute]; temperature of the gas in the pipe [K].
    Notes: ideal gas; at 30 psig nitrogen departs from it by under 0.1 %.
    """
    require_positive(temperature=temperature)
    require_not_negative(volume=volume, low=low)
    rise = np.asarray(high) - np.asarray(low)
    require(~(rise < 0), "high", high, "no lower than low")
    scale = GAS_STATE_TEMPERATURE / (GAS_STATE_PRESSURE * np.asarray(temperature))
    return plain(np.asarray(volume) * rise * scale)


def gas_moles(volume: Real, pressure: Real, temperature: Real) -> Real:
    """Moles of ideal gas in `volume` at an absolute pressure: n = P V / (R T)."""
    require_not_negative(volume=volume, pressure=pressure)
    require_positive(temperature=temperature)
    return plain(np.asarray(pressure) * volume / (GAS_CONSTANT * np.asarray(temperature)))


def swept_fraction(start: Real, feed: Real, volumes: Real) -> Real:
    """Oxygen mole fraction after sweeping `volumes` pipe volumes of feed through a mixed pipe.

    Equation: C_2 = C_0 + (C_1 - C_0) exp(-Q t / V).
    Source: Crowl & Louvar, Chemical Process Safety, ch. 7, sweep-through purging.
    """
    require_fraction(start=start, feed=feed)
    require_not_negative(volumes=volumes)
    if isinstance(start, float) and isinstance(feed, float) and isinstance(volumes, float):
        return feed + (start - feed) * math.exp(-volumes)
    left = np.exp(-np.asarray(volumes, dtype=float))
    return plain(np.asarray(feed) + (np.asarray(start) - np.asarray(feed)) * left)


def sweep_volumes_needed(start: Real, feed: Real, target: Real) -> Real:
    """Pipe volumes of feed to sweep from `start` to `target`; 0 if there, infinity if never.

    Example: 21 % oxygen to 1.25 % with feed of 0.01 %, per cubic foot
    >>> round(1000 * sweep_volumes_needed(0.21, 0.0001, 0.0125), 1)
    2828.9

    Source: Crowl & Louvar, Chemical Process Safety, ch. 7, sweep-through example.
    """
    return cycles_needed(start, feed, target, math.exp(-1.0))


def turnover_rate(pressure_loss_rate: Real, pressure: Real) -> Real:
    """Share of the gas that leaks out and is made up per unit of time, 1/time.

    Equation: L = (dP/dt) / P with P absolute; the time unit is that of the loss rate.
    """
    require_not_negative(pressure_loss_rate=pressure_loss_rate)
    require_positive(pressure=pressure)
    return plain(np.asarray(pressure_loss_rate) / np.asarray(pressure))


def drifted_fraction(start: Real, makeup: Real, turnover: Real, time: Real) -> Real:
    """Oxygen mole fraction after leaking and being made up at constant pressure for `time`.

    Equation: y(t) = y_s + (y_0 - y_s) exp(-L t).
    Parameters: start y_0; makeup y_s, oxygen in the make-up gas; turnover L [1/time]; time t.
    Notes: mixed pipe. A leak that is not made up lowers the pressure and leaves y unchanged.
    Source: own derivation, mole balance of a mixed volume: dy/dt = L (y_s - y).
    """
    require_not_negative(turnover=turnover, time=time)
    if isinstance(turnover, float) and isinstance(time, float):
        return swept_fraction(start, makeup, turnover * time)
    return swept_fraction(start, makeup, np.asarray(turnover) * np.asarray(time))


def time_to_threshold(start: Real, makeup: Real, threshold: Real, turnover: Real) -> Real:
    """Time until leak and make-up raise oxygen to `threshold`, in 1/turnover's unit.

    Returns: 0 where the start is there already, infinity where the make-up gas holds no more
    oxygen than the threshold or nothing leaks.
    """
    require_fraction(start=start, makeup=makeup, threshold=threshold)
    require_not_negative(turnover=turnover)
    y0, ys, yt, rate = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (start, makeup, threshold, turnover))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        time = np.log((ys - y0) / (ys - yt)) / rate
    time = np.where((ys <= yt) | (rate == 0), math.inf, time)
    return plain(np.where(y0 >= yt, 0.0, time))


def pressure_at_temperature(pressure: Real, measured_at: Real, wanted_at: Real) -> Real:
    """Absolute pressure a closed pipe would show at another temperature, Pa.

    Equation: P2 = P1 T2 / T1, fixed amount of gas.
    Notes: tells a cold night from a leak: 40 psig at 20 C reads 36.27 psig at 0 C.
    Source: Gay-Lussac's law.
    """
    require_not_negative(pressure=pressure)
    require_positive(measured_at=measured_at, wanted_at=wanted_at)
    return plain(np.asarray(pressure) * np.asarray(wanted_at) / np.asarray(measured_at))


def mixed_fraction(start: Real, replaced: Real, entered: Real = OXYGEN_IN_DRY_AIR) -> Real:
    """Oxygen mole fraction after a breach replaced part of the gas, by volume."""
    require_fraction(start=start, replaced=replaced, entered=entered)
    share = np.asarray(replaced, dtype=float)
    return plain((1.0 - share) * np.asarray(start) + share * np.asarray(entered))


def generator_turnover(
    flow: Real, volume: Real, pressure: Real, *, temperature: Real = GAS_STATE_TEMPERATURE
) -> Real:
    """Share of a pipe's gas that a generator replaces each second through an open vent, 1/s.

    Equation: L = F / [V (P / P_std) (T_std / T)], F in standard m3/s, V [m3], P [Pa absolute].
    """
    require_not_negative(flow=flow)
    require_positive(volume=volume, pressure=pressure)
    held = standard_volume(volume, 0.0, pressure, temperature=temperature)
    return plain(np.asarray(flow) / held)


def recovery_time(start: Real, feed: Real, target: Real, turnover: Real) -> Real:
    """Seconds for a generator to sweep from `start` to `target`; 0 if there, infinity if never."""
    require_not_negative(turnover=turnover)
    volumes = np.asarray(sweep_volumes_needed(start, feed, target))
    rate = np.asarray(turnover, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = volumes / rate
    return plain(np.where(volumes == 0, 0.0, np.where(rate == 0, math.inf, time)))
