"""How fast the model runs over a portfolio held in arrays.

Run `python -m tests.benchmarks --part arrays`. Per system and in one run:
(a) assessment from arrays; (c) the same arithmetic per object in plain Python, on fewer systems;
the floor: only the exponentials that (a) needs, on arrays as large as the portfolio.
"""

import time
from dataclasses import dataclass

import numpy as np

from registry.corrosion.assess import HORIZONS, assess_many
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.batch import (
    Batch,
    CouponTable,
    LeakTable,
    RunTable,
    SpanTable,
    SystemTable,
    WallTable,
    WaterTable,
)
from registry.corrosion.inputs import (
    DRESSED,
    METHODS,
    GasSpan,
    Leak,
    RunInput,
    SystemInput,
    WallReading,
    WaterDose,
)
from registry.corrosion.normal import normal_tail
from registry.corrosion.prior import NODES
from registry.corrosion.thickness import thread_height
from tests.benchmarks import plain_python
from tests.benchmarks.tables import Table

RUNS, EVENTS = 8, 20
SIZES = ("6", "4", "4", "2-1/2", "1-1/2", "1-1/4", "1-1/4", "1")


def portfolio(count: int, seed: int = 1) -> Batch:
    """Systems of 8 runs and 20 gas spans each, one in ten with a wall reading or a leak."""
    rng = np.random.default_rng(seed)
    run_owner = np.repeat(np.arange(count), RUNS)
    span_owner = np.repeat(np.arange(count), EVENTS)
    age = rng.uniform(5.0, 30.0, count)
    start = np.sort(rng.uniform(0.1, 1.0, (count, EVENTS)), axis=1) * age[:, None]
    pools = rng.random(count) < 0.3
    outside = np.tile([168.3, 114.3, 114.3, 73.0, 48.3, 42.2, 42.2, 33.4], count) / 1000.0
    wall = np.tile([3.40, 3.05, 3.05, 3.05, 3.68, 3.56, 3.56, 3.38], count) / 1000.0
    seen = np.flatnonzero(rng.random(count) < 0.1)
    leaked = np.flatnonzero(rng.random(count) < 0.1)
    return Batch(
        systems=SystemTable(
            has_pools=pools,
            is_open=np.zeros(count, dtype=np.bool_),
            installed_yr=np.zeros(count),
            now_yr=age,
            temperature_k=rng.uniform(280.0, 300.0, count),
            pressure_pa=np.where(pools, 3.8e5, rng.uniform(6e5, 1.2e6, count)),
            atmosphere_pa=np.full(count, 101325.0),
            dissolved_kg_m3=np.full(count, 9e-3),
            is_vented=rng.random(count) < 0.2,
            consequence=rng.choice([0.5, 1.0, 2.0], count),
            future_fills=np.full(count, np.nan),
            future_oxygen=np.full(count, np.nan),
            outside_leaks_per_yr=np.zeros(count),
            found_wet=np.zeros(count),
            found_clear=np.zeros(count),
            leaks_known_from_yr=0.5 * age,
            watched_until_yr=np.full(count, np.inf),
            sulphate_kg_m3=np.full(count, np.nan),
            sign_log_odds=np.zeros(count),
            inert_from_yr=np.full(count, np.inf),
            site_factor=np.ones(count),
        ),
        runs=RunTable(
            system=run_owner,
            bore_m=outside - 2 * wall,
            wall_m=wall,
            joint_wall_m=wall - np.tile([0.0] * 4 + [thread_height(32)] * 4, count),
            length_m=rng.uniform(10.0, 200.0, count * RUNS),
            installed_yr=np.zeros(count * RUNS),
            is_branch=np.tile([False] * 4 + [True] * 4, count),
            trapped=np.full(count * RUNS, np.nan),
            wetted=np.full(count * RUNS, np.nan),
            has_zinc=np.repeat(pools, RUNS),
            in_model=np.ones(count * RUNS, dtype=np.bool_),
            thick_wall_m=wall,
            thick_joint_wall_m=wall,
            has_baseline=np.zeros(count * RUNS, dtype=np.bool_),
        ),
        spans=SpanTable(
            system=span_owner,
            start_yr=start.ravel(),
            oxygen=rng.choice([0.2095, 0.02, 0.01], count * EVENTS),
            makeup_oxygen=np.where(pools, rng.choice([0.2095, 0.01], count), 0.0)[span_owner],
            turnover_per_yr=np.where(pools, rng.uniform(0.5, 10.0, count), 0.0)[span_owner],
        ),
        water=WaterTable(
            span_owner, start.ravel(), np.full(count * EVENTS, 9e-3), np.ones(count * EVENTS)
        ),
        walls=WallTable(
            seen,
            seen * RUNS,
            age[seen],
            np.full(seen.size, 2.8e-3),
            np.full(seen.size, METHODS.index("suggested_position")),
            np.full(seen.size, DRESSED.index("unknown")),
            np.full(seen.size, np.nan),
        ),
        coupons=CouponTable(*(np.zeros(0, dtype=np.intp),) * 2, *(np.zeros(0),) * 3),
        leaks=LeakTable(leaked, np.full(leaked.size, -1), age[leaked] - 0.5),
        assumptions=Assumptions(),
    )


def as_objects(batch: Batch, count: int) -> list[SystemInput]:
    """The first systems of a portfolio one by one, with every number the columns hold."""
    s = batch.systems
    return [
        SystemInput(
            kind="dry" if s.has_pools[i] else "wet",
            installed_yr=float(s.installed_yr[i]),
            now_yr=float(s.now_yr[i]),
            runs=tuple(_run(batch, row) for row in range(i * RUNS, (i + 1) * RUNS)),
            pressure_pa=float(s.pressure_pa[i]),
            spans=tuple(_span(batch, row) for row in range(i * EVENTS, (i + 1) * EVENTS)),
            water=tuple(_dose(batch, row) for row in range(i * EVENTS, (i + 1) * EVENTS)),
            walls=_walls(batch, i),
            leaks=tuple(Leak(float(t)) for t in batch.leaks.found_yr[batch.leaks.system == i]),
            temperature_k=float(s.temperature_k[i]),
            dissolved_oxygen_kg_m3=float(s.dissolved_kg_m3[i]),
            is_vented=bool(s.is_vented[i]),
            book_began_yr=float(s.leaks_known_from_yr[i]),
            consequence_class={0.5: 2, 1.0: 3, 2.0: 4}[float(s.consequence[i])],
        )
        for i in range(count)
    ]


def _run(batch: Batch, row: int) -> RunInput:
    r = batch.runs
    return RunInput(
        material="galvanized_steel" if r.has_zinc[row] else "black_steel",
        nominal_size=SIZES[row % RUNS],
        outside_diameter_m=float(r.bore_m[row] + 2 * r.wall_m[row]),
        wall_m=float(r.wall_m[row]),
        length_m=float(r.length_m[row]),
        installed_yr=float(r.installed_yr[row]),
        role="branch_line" if r.is_branch[row] else "cross_main",
        joint="threaded" if r.joint_wall_m[row] < r.wall_m[row] else "welded",
    )


def _span(batch: Batch, row: int) -> GasSpan:
    columns = batch.spans
    return GasSpan(
        float(columns.start_yr[row]),
        float(columns.oxygen[row]),
        float(columns.makeup_oxygen[row]),
        float(columns.turnover_per_yr[row]),
    )


def _dose(batch: Batch, row: int) -> WaterDose:
    amount = float(batch.water.amount_kg_m3[row])
    return WaterDose(float(batch.water.at_yr[row]), 1.0, amount)


def _walls(batch: Batch, system: int) -> tuple[WallReading, ...]:
    w = batch.walls
    return tuple(
        WallReading(int(w.run[i]) - system * RUNS, float(w.at_yr[i]), float(w.remaining_m[i]))
        for i in np.flatnonzero(w.system == system)
    )


def best_of(repeats: int, work) -> float:
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def exponentials(count: int, dtype) -> None:
    """As many exponentials and normal tails as `count` systems need, one array a time point as
    large as they are: now, each horizon, and when the watch for leaks began and ended."""
    size = (NODES, RUNS, count)
    block, out = np.full(size, -3.0, dtype), np.empty(size, dtype)
    z = np.linspace(-3.0, 3.0, RUNS * count)
    for _ in range(len(HORIZONS) + 3):
        np.exp(block, out=out)
        normal_tail(z)


@dataclass(frozen=True)
class Timing:
    """Microseconds a system that each form took, and how far their scores are apart."""

    systems: int
    arrays: dict[int, float]
    floor: float
    plain: float
    largest_difference: float


def arrays_us(batch: Batch, workers: int) -> dict[int, float]:
    """Microseconds a system by number of threads, the best of three."""
    threads = sorted({1, workers})
    took = {n: best_of(3, lambda n=n: assess_many(batch, workers=n)) for n in threads}
    return {n: 1e6 * seconds / batch.size for n, seconds in took.items()}


def measure(systems: int, workers: int, plain: int) -> Timing:
    """Every form in one run on the same portfolio; plain Python on its first systems."""
    batch = portfolio(systems)
    arrays = arrays_us(batch, workers)
    floor = best_of(3, lambda: exponentials(systems, np.float64))
    objects = as_objects(batch, plain)
    begin = time.perf_counter()
    alone = np.array([plain_python.assess(system).score for system in objects])
    per_object = time.perf_counter() - begin
    together = assess_many(batch.part(0, plain)).score
    return Timing(
        systems=systems,
        arrays=arrays,
        floor=1e6 * floor / systems,
        plain=1e6 * per_object / plain,
        largest_difference=float(np.abs(together - alone).max()),
    )


def table(timing: Timing) -> Table:
    best = min(timing.arrays.values())
    forms = [
        *((f"(a) arrays, threads: {n}", took) for n, took in timing.arrays.items()),
        ("(c) plain Python, per object", timing.plain),
        ("floor: the same exponentials and normal tails", timing.floor),
    ]
    return Table(
        f"The model from arrays, {timing.systems:,} systems",
        ("form", "us a system", "times the best of (a)"),
        [(name, f"{took:.2f}", f"{took / best:.2f}") for name, took in forms],
        f"Scores of (a) and (c) differ by {timing.largest_difference:.1e} points at most.",
    )
