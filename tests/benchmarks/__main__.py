"""Run `python -m tests.benchmarks`: the model in every form, a whole book, a sweep, a feed, plans,
proof.

Each part prints one Markdown table as soon as it is done. `--part NAME` runs some parts alone,
`--size N` gives them another size than their own (several for the book: one row each). Books lie in
SQLite files, or in new databases on the server that DATABASE_URL names; they are gone afterwards.
"""

import argparse
import os
import signal
import sys
from collections.abc import Callable, Sequence

from tests.benchmarks import (
    assess_batch,
    assess_database,
    crews,
    feed,
    import_register,
    proof,
    reports,
    sweep,
)
from tests.benchmarks.tables import Table

WORKERS = os.cpu_count() or 1
PLAIN = 300


def arrays(sizes: Sequence[int]) -> Table:
    return assess_batch.table(assess_batch.measure(sizes[0], WORKERS, min(PLAIN, sizes[0])))


def database(sizes: Sequence[int]) -> Table:
    return assess_database.table([assess_database.measure(size) for size in sizes])


def sweeping(sizes: Sequence[int]) -> Table:
    return sweep.table(sweep.measure(sizes[0]))


def calendar(sizes: Sequence[int]) -> Table:
    return feed.table(feed.measure(sizes[0]))


def plans(sizes: Sequence[int]) -> Table:
    return crews.table([crews.measure(size) for size in sizes])


def importing(sizes: Sequence[int]) -> Table:
    return import_register.table([import_register.measure(size) for size in sizes])


def proving(sizes: Sequence[int]) -> Table:
    return proof.table([proof.measure(size) for size in sizes])


def reporting(sizes: Sequence[int]) -> Table:
    return reports.table([reports.measure(size) for size in sizes])


PARTS: dict[str, tuple[Callable[[Sequence[int]], Table], tuple[int, ...]]] = {
    "arrays": (arrays, (100_000,)),
    "database": (database, (1_000, 10_000, 100_000)),
    "sweep": (sweeping, (100_000,)),
    "feed": (calendar, (5_000,)),
    "crews": (plans, (12, 40, 60, 120, 300)),
    "import": (importing, (10_000, 100_000)),
    "reports": (reporting, (10, 100)),
    "proof": (proving, (10_000, 100_000, 1_000_000)),
}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--part", action="append", choices=PARTS, help="this part alone")
    parser.add_argument(
        "--size", action="append", type=int, metavar="N", help="this many systems or orders"
    )
    parser.add_argument(
        "--week", action="append", metavar="FILE", help="part crews: these weeks, not invented ones"
    )
    options = parser.parse_args()
    if options.week:
        print(crews.table([crews.measure_file(path) for path in options.week]), flush=True)
        return
    if any(size < 2 for size in options.size or ()):
        parser.error("--size: two systems are the least that can be measured")
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("Stopped."))  # scratch books go first
    for name in options.part or PARTS:
        work, usual = PARTS[name]
        print(work(options.size or usual), flush=True)


if __name__ == "__main__":
    main()
