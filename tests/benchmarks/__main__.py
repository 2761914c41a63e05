"""Run `python -m tests.benchmarks`: every form of the model, timed in one run, as one table."""

import argparse
import os
import platform

from tests.benchmarks import assess_batch


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--systems", type=int, default=100_000)
    parser.add_argument("--plain", type=int, default=300, help="systems for plain Python")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    table = assess_batch.measure(options.systems, options.workers, options.plain)
    assess_batch.show(table)


if __name__ == "__main__":
    main()
