"""How fast the model runs over a portfolio held in arrays.

Run `python -m tests.benchmarks.assess_batch [--systems 100000]`. Prints, per system and in one run:
(a) assessment from arrays; (c) the same arithmetic per object in plain Python, on fewer systems;
the floor: only the exponentials that (a) needs, on arrays of the same blocks.
"""

import argparse
import os
import time

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
from registry.corrosion.evidence import NODES

RUNS, EVENTS = 8, 20


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
            leaks_are_known=np.ones(count, dtype=np.bool_),
            outside_leaks_per_yr=np.zeros(count),
        ),
        runs=RunTable(
            system=run_owner,
            bore_m=outside - 2 * wall,
            wall_m=wall,
            joint_wall_m=wall - np.tile([0, 0, 0, 0, 1.77e-3, 1.77e-3, 1.77e-3, 1.77e-3], count),
            length_m=rng.uniform(10.0, 200.0, count * RUNS),
            installed_yr=np.zeros(count * RUNS),
            is_branch=np.tile([False] * 4 + [True] * 4, count),
            trapped=np.full(count * RUNS, np.nan),
            wetted=np.full(count * RUNS, np.nan),
            has_zinc=np.repeat(pools, RUNS),
            in_model=np.ones(count * RUNS, dtype=np.bool_),
        ),
        spans=SpanTable(
            system=span_owner,
            start_yr=start.ravel(),
            oxygen=rng.choice([0.2095, 0.02, 0.01], count * EVENTS),
            makeup_oxygen=np.where(pools[span_owner], rng.choice([0.2095, 0.01]), 0.0),
            turnover_per_yr=np.where(pools[span_owner], rng.uniform(0.5, 10.0), 0.0),
        ),
        water=WaterTable(span_owner, start.ravel(), np.full(count * EVENTS, 9e-3)),
        walls=WallTable(
            seen, seen * RUNS, age[seen], np.full(seen.size, 2.8e-3), np.zeros(seen.size, np.bool_)
        ),
        coupons=CouponTable(*(np.zeros(0, dtype=np.intp),) * 2, *(np.zeros(0),) * 3),
        leaks=LeakTable(leaked, np.full(leaked.size, -1), age[leaked] - 0.5),
        assumptions=Assumptions(),
    )


def best_of(repeats: int, work) -> float:
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def exponentials(count: int) -> None:
    """As many exponentials as `count` systems need, one array a time point as large as they are."""
    size = (NODES, RUNS, count)
    block, out = np.full(size, -3.0), np.empty(size)
    for _ in range(len(HORIZONS) + 1):
        np.exp(block, out=out)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--systems", type=int, default=100_000)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    batch = portfolio(options.systems)
    for workers in sorted({1, options.workers}):
        took = best_of(3, lambda w=workers: assess_many(batch, workers=w))
        print(f"(a) arrays, {workers} threads: {1e6 * took / batch.size:8.2f} us a system")
    took = best_of(3, lambda: exponentials(batch.size))
    print(f"floor, exponentials:    {1e6 * took / batch.size:8.2f} us a system")
