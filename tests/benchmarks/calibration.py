"""Simulation-based calibration: systems drawn from the prior, evidence drawn from the model.

Run `python -m tests.benchmarks.calibration OUT.svg` for the plot: how often the bands of a given
width hold the truth, and how often systems leak that were given a leak probability.
"""

import sys
from dataclasses import dataclass, replace

import numpy as np

from registry.corrosion.assess import Assessments, assess_many
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.attack import Attack, attack_of
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import weighted_quantiles
from registry.corrosion.inputs import METHODS, Leak, SystemInput, WallReading
from registry.corrosion.prior import theta_nodes
from tests.registry.corrosion.builders import AIR, dry, wet

ENOUGH_LEAKS = 3


@dataclass(frozen=True)
class Simulated:
    systems: list[SystemInput]
    theta: np.ndarray
    leaked_within_5: np.ndarray


def simulate(count: int, seed: int, *, readings: int = 1, miss_more: float = 0.0) -> Simulated:
    """Systems of random age with their true multiplier and sites, readings, leaks and future.

    Half of them are water-filled, half dry under air or nitrogen, which drain well or do not. Each
    book began at a random time, and leaks before it are not known. A reading lies on the attack as
    often as its method says, less `miss_more`.
    """
    rng = np.random.default_rng(seed)
    ages = rng.uniform(2.0, 30.0, count)
    bare = [_bare(row, float(age)) for row, age in enumerate(ages)]
    assumed = bare[0].assumptions
    dried = np.array([system.has_pools for system in bare])
    drains = dried & (rng.uniform(size=count) < float(np.asarray(assumed.drained_share)))
    spread = np.where(drains, assumed.drained_spread, assumed.theta_spread)
    theta = np.where(drains, assumed.drained_multiplier, 1.0) * np.exp(rng.normal(0.0, spread))
    active = rng.uniform(size=count) < float(assumed.active_share)
    shape = np.where(active, assumed.active_shape, assumed.quiet_shape)
    mean = np.where(active, assumed.active_sites, assumed.quiet_sites)
    truth = Truth(theta, rng.gamma(shape) * mean / shape, rng.uniform(0.0, 1.0, count) * ages)
    found, now = _watched(bare, truth, rng)
    bare = [
        replace(
            system,
            now_yr=float(t),
            book_began_yr=float(min(k, t)),
            assumptions=Assumptions(leak_dating_years=max(float(end - k) / LOOKS, 0.01)),
        )
        for system, t, k, end in zip(bare, now, truth.began, ages, strict=True)
    ]
    attack = attack_of(batch_from(bare))
    systems = [
        replace(
            system,
            leaks=tuple(found[row]),
            walls=tuple(
                _reading(system, attack, row, theta[row], rng, miss_more) for _ in range(readings)
            ),
            **_findings(system, bool(drains[row]), rng),
        )
        for row, system in enumerate(bare)
    ]
    ahead = _expected(bare, truth, np.column_stack([now, now + 5.0]))
    return Simulated(systems, theta, rng.poisson(np.diff(ahead, axis=1))[:, 0] > 0)


@dataclass(frozen=True)
class Truth:
    theta: np.ndarray
    sites: np.ndarray
    began: np.ndarray


def _expected(systems: list[SystemInput], truth: Truth, times: np.ndarray) -> np.ndarray:
    """Leaks expected in each system by each of its times, by both channels: (systems, times)."""
    batch = batch_from(systems)
    attack = attack_of(batch)
    oxygen = attack.intensities(attack.depths(times), truth.theta[:, None])[:, 0, :].T
    others = float(batch.assumptions.other_leaks_per_year) * times
    return oxygen.astype(np.float64) + truth.sites[:, None] * attack.sites(times).T + others


def _watched(
    systems: list[SystemInput], truth: Truth, rng: np.random.Generator
) -> tuple[list[list[Leak]], np.ndarray]:
    """Leaks found at each look once the book began, and until when: nobody watches a
    sieve, so a system is looked at no longer than to the year of its third leak.
    """
    ages = np.array([system.now_yr for system in systems])
    share = np.linspace(0.0, 1.0, LOOKS + 1)[None, :]
    ends = truth.began[:, None] + share * (ages - truth.began)[:, None]
    opened = rng.poisson(np.maximum(np.diff(_expected(systems, truth, ends), axis=1), 0.0))
    many = np.cumsum(opened, axis=1) >= ENOUGH_LEAKS
    last = np.where(many.any(axis=1), many.argmax(axis=1), opened.shape[1] - 1)
    opened = np.minimum(opened, 100)  # nobody counts the holes of a sieve
    found = [_leaks(ends[i, 1 : k + 2], opened[i, : k + 1]) for i, k in enumerate(last)]
    return found, ends[np.arange(ages.size), last + 1]


LOOKS = 400
"""Somebody looks for leaks this often while the book is kept; a leak is dated to the time since the
look before, and the model is told so."""


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
    system: SystemInput,
    attack: Attack,
    row: int,
    theta: float,
    rng: np.random.Generator,
    miss_more: float,
) -> WallReading:
    """On the attack as often as the method says, on dressed steel, with the run's own factor."""
    assumed = system.assumptions
    run, time = int(rng.integers(0, 3)), float(rng.uniform(0.0, system.now_yr))
    method = METHODS[int(rng.integers(0, len(METHODS)))]
    wall = system.runs[run].wall_m
    at = np.array([row * len(system.runs) + run])
    pit = assumed.pit_location + 0.5772 * assumed.pit_scale if method == "full_scan" else 1.0
    depth = float(attack.depth(at, np.array([time]))[0]) * pit
    factor = float(np.exp(rng.normal(0.0, float(assumed.run_spread)) * IS_OWN))
    lost = min(max(theta * factor * depth - float(attack.zinc_m[at[0]]), 0.0), 0.98 * wall)
    hits = rng.uniform() < getattr(assumed, f"on_attack_{method}") - miss_more
    lost = lost if hits else 0.0
    spread = np.hypot(np.hypot(assumed.gauge_error_m, assumed.mill_spread * wall), 0.3 * lost)
    read = wall - lost + float(rng.normal(0.0, float(spread)))
    return WallReading(run, time, max(read, 0.02 * wall), method, dressed="yes")


IS_OWN = 1.0
"""Runs have a factor of their own in the truth as well."""


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
    for wrong in (0.0, 0.3, -0.3):
        report(simulate(count, seed=1, miss_more=wrong) if wrong else simulated, wrong)


def report(simulated: Simulated, miss_more: float) -> None:
    """Bands and deciles in words; on the attack less often than assumed by `miss_more`."""
    results = assessed(simulated)
    held = [f"{width:.0%}: {coverage(simulated, results, width):.1%}" for width in (0.5, 0.8, 0.9)]
    print(f"readings on the attack {-miss_more:+.1f}: bands hold {', '.join(held)}")
    for row in reliability(simulated, results, 10):
        print(f"  forecast {row['forecast']:6.1%}  leaked {row['leaked']:6.1%}")


if __name__ == "__main__":
    plot(sys.argv[1])
