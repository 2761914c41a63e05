"""Simulation-based calibration: systems drawn from the prior, evidence drawn from the model.

Run `python -m tests.benchmarks.calibration OUT.svg` for the plot: how often the bands of a given
width hold the truth, and how often systems leak that were given a leak probability.
"""

import sys
from dataclasses import dataclass, replace

import numpy as np

from registry.corrosion.assess import Assessments, assess_many
from registry.corrosion.attack import Attack, attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import weighted_quantiles
from registry.corrosion.inputs import Leak, SystemInput, WallReading
from registry.corrosion.prior import theta_nodes
from tests.registry.corrosion.builders import AIR, dry, wet

ENOUGH_LEAKS = 3


@dataclass(frozen=True)
class Simulated:
    systems: list[SystemInput]
    theta: np.ndarray
    leaked_within_5: np.ndarray


def simulate(count: int, seed: int, *, readings: int = 2) -> Simulated:
    """Systems of random age with their true multiplier, readings, yearly leak record and future.

    Half of them are water-filled, half dry under air or nitrogen, which drain well or do not.
    """
    rng = np.random.default_rng(seed)
    ages = rng.uniform(2.0, 30.0, count)
    bare = [_bare(row, float(age)) for row, age in enumerate(ages)]
    assumed = bare[0].assumptions
    dried = np.array([system.has_pools for system in bare])
    drains = dried & (rng.uniform(size=count) < float(np.asarray(assumed.drained_share)))
    spread = np.where(drains, assumed.drained_spread, assumed.theta_spread)
    theta = np.where(drains, assumed.drained_multiplier, 1.0) * np.exp(rng.normal(0.0, spread))
    found, now = _watched(bare, theta, rng)
    bare = [replace(system, now_yr=float(t)) for system, t in zip(bare, now, strict=True)]
    attack = attack_of(batch_from(bare))
    systems = [
        replace(
            system,
            leaks=tuple(found[row]),
            walls=tuple(_reading(system, attack, row, theta[row], rng) for _ in range(readings)),
            **_findings(system, bool(drains[row]), rng),
        )
        for row, system in enumerate(bare)
    ]
    ahead = _expected(bare, theta, np.column_stack([now, now + 5.0]))
    return Simulated(systems, theta, rng.poisson(np.diff(ahead, axis=1))[:, 0] > 0)


def _expected(systems: list[SystemInput], theta: np.ndarray, times: np.ndarray) -> np.ndarray:
    """Leaks expected in each system by each of its times, (systems, times)."""
    attack = attack_of(batch_from(systems))
    return attack.intensities(attack.depths(times), theta[:, None])[:, 0, :].T.astype(np.float64)


def _watched(
    systems: list[SystemInput], theta: np.ndarray, rng: np.random.Generator
) -> tuple[list[list[Leak]], np.ndarray]:
    """Leaks found at the end of each year, and until when: nobody watches a sieve, so a system is
    looked at no longer than to the year of its third leak. Such stopping leaves a belief right.
    """
    ages = np.array([system.now_yr for system in systems])
    ends = np.minimum(np.arange(0.0, 31.0)[None, :], ages[:, None])
    opened = rng.poisson(np.maximum(np.diff(_expected(systems, theta, ends), axis=1), 0.0))
    many = np.cumsum(opened, axis=1) >= ENOUGH_LEAKS
    last = np.where(many.any(axis=1), many.argmax(axis=1), opened.shape[1] - 1)
    found = [_leaks(ends[i, 1 : k + 2], opened[i, : k + 1]) for i, k in enumerate(last)]
    return found, ends[np.arange(ages.size), last + 1]


def _bare(row: int, age: float) -> SystemInput:
    if row % 2 == 0:
        return wet(now_yr=age)
    return dry(oxygen=AIR if row % 4 == 1 else 0.02, now_yr=age)


def _findings(system: SystemInput, drains: bool, rng: np.random.Generator) -> dict[str, int]:
    """One look inside every second gas-filled system."""
    if not system.has_pools or rng.uniform() < 0.5:
        return {}
    assumed = system.assumptions
    chance = assumed.traces_if_drained if drains else assumed.traces_if_holding
    return {"found_wet": 1} if rng.uniform() < chance else {"found_clear": 1}


def _leaks(found: np.ndarray, opened: np.ndarray) -> list[Leak]:
    return [Leak(float(t)) for t, k in zip(found, opened, strict=True) for _ in range(k)]


def _reading(
    system: SystemInput, attack: Attack, row: int, theta: float, rng: np.random.Generator
) -> WallReading:
    assumed = system.assumptions
    run, time = int(rng.integers(0, 3)), float(rng.uniform(0.0, system.now_yr))
    wall = system.runs[run].wall_m
    at = np.array([row * len(system.runs) + run])
    depth = float(attack.depth(at, np.array([time]))[0])
    loss = max(theta * depth - float(attack.zinc_m[at[0]]), 0.0)
    expected = max(wall - loss, 0.02 * wall)
    local = float(np.asarray(assumed.local_spread)) * min(loss, wall) / expected
    spread = float(np.hypot(float(np.asarray(assumed.wall_reading_spread)), local))
    return WallReading(run, time, expected * float(np.exp(rng.normal(0.0, spread))))


def assessed(simulated: Simulated) -> Assessments:
    return assess_many(batch_from(simulated.systems))


def coverage(simulated: Simulated, results: Assessments, width: float) -> float:
    """Share of systems whose true multiplier lies in the central band of this probability."""
    theta = theta_nodes(batch_from(simulated.systems))
    ends = (0.5 - width / 2, 0.5 + width / 2)
    low, high = weighted_quantiles(results.weights, theta, ends).T
    return float(np.mean((low <= simulated.theta) & (simulated.theta <= high)))


def reliability(simulated: Simulated, results: Assessments, bins: int = 5) -> list[dict]:
    """Mean forecast and leaked share of systems grouped by their five-year forecast."""
    five = results.leak_probability[:, list(results.horizons_yr).index(5.0)]
    groups = np.array_split(np.argsort(five), bins)
    return [
        {
            "forecast": float(five[rows].mean()),
            "leaked": float(simulated.leaked_within_5[rows].mean()),
            "systems": len(rows),
        }
        for rows in groups
    ]


def plot(path: str, count: int = 2000) -> None:
    import altair as alt

    simulated = simulate(count, seed=1)
    results = assessed(simulated)
    widths = np.arange(0.1, 1.0, 0.1)
    bands = [{"band": float(w), "held": coverage(simulated, results, float(w))} for w in widths]
    diagonal = [{"band": 0.0, "held": 0.0}, {"band": 1.0, "held": 1.0}]
    line = alt.Chart(alt.Data(values=diagonal)).mark_line(strokeDash=[4, 4], color="grey")
    left = alt.Chart(alt.Data(values=bands)).mark_point(filled=True, size=60)
    right = alt.Chart(alt.Data(values=reliability(simulated, results, 10))).mark_point(
        filled=True, size=60
    )
    x, y = alt.X("band:Q", title="Band wanted"), alt.Y("held:Q", title="Share of truths inside")
    fx = alt.X("forecast:Q", title="Forecast of a leak in five years")
    fy = alt.Y("leaked:Q", title="Share that leaked")
    both = (line.encode(x, y) + left.encode(x, y)) | (
        line.encode(alt.X("band:Q"), alt.Y("held:Q")) + right.encode(fx, fy)
    )
    both.save(path)
    for row in bands:
        print(f"band {row['band']:.0%}: holds {row['held']:.1%}")


if __name__ == "__main__":
    plot(sys.argv[1])
