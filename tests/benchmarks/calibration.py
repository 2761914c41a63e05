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
from registry.corrosion.evidence import theta_nodes, weighted_quantiles
from registry.corrosion.inputs import Leak, SystemInput, WallReading
from tests.registry.corrosion.builders import wet


@dataclass(frozen=True)
class Simulated:
    systems: list[SystemInput]
    theta: np.ndarray
    leaked_within_5: np.ndarray


def simulate(count: int, seed: int, *, readings: int = 2) -> Simulated:
    """Systems of random age with their true multiplier, readings, yearly leak record and future."""
    rng = np.random.default_rng(seed)
    ages = rng.uniform(2.0, 30.0, count)
    bare = [wet(now_yr=float(age)) for age in ages]
    theta = np.exp(rng.normal(0.0, float(np.asarray(bare[0].assumptions.theta_spread)), count))
    attack = attack_of(batch_from(bare))
    ends = np.minimum(np.arange(0.0, 31.0)[None, :], ages[:, None])
    times = np.column_stack([ends, ages, ages + 5.0])
    expected = attack.intensities(attack.depths(times), theta[:, None])[:, 0, :].T
    opened = rng.poisson(np.diff(expected, axis=1))
    systems = [
        replace(
            system,
            leaks=tuple(_leaks(times[row, 1:-1], opened[row, :-1])),
            walls=tuple(_reading(system, attack, row, theta[row], rng) for _ in range(readings)),
        )
        for row, system in enumerate(bare)
    ]
    return Simulated(systems, theta, opened[:, -1] > 0)


def _leaks(found: np.ndarray, opened: np.ndarray) -> list[Leak]:
    return [Leak(float(t)) for t, k in zip(found, opened, strict=True) for _ in range(k)]


def _reading(
    system: SystemInput, attack: Attack, row: int, theta: float, rng: np.random.Generator
) -> WallReading:
    assumed = system.assumptions
    run, time = int(rng.integers(0, 3)), float(rng.uniform(1.0, system.now_yr))
    wall = system.runs[run].wall_m
    at = np.array([row * len(system.runs) + run])
    loss = theta * float(attack.depth(at, np.array([time]))[0])
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
