"""Run `python -m tests.benchmarks`: the model in every form, a whole book, and a calendar feed."""

import argparse
import os
import platform
from dataclasses import replace

from tests.benchmarks import assess_batch, assess_database, feed, spreadsheet


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--systems", type=int, default=100_000)
    parser.add_argument("--plain", type=int, default=300, help="systems for plain Python")
    parser.add_argument("--sheet", type=int, default=200, help="systems for the spreadsheet")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--books", type=int, nargs="*", default=[1_000, 10_000], help="(b) sizes")
    parser.add_argument("--large", action="store_true", help="(b) also a book of 100,000")
    parser.add_argument("--events", type=int, default=5_000, help="events of the feed")
    options = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    table = assess_batch.measure(options.systems, options.workers, options.plain)
    assess_batch.show(table)
    show_spreadsheet(options.sheet, min(table.arrays.values()))
    sizes = options.books + ([100_000] if options.large else [])
    assess_database.show([assess_database.measure(size) for size in sizes])
    feed.show(feed.measure(options.events))


def show_spreadsheet(count: int, best: float) -> None:
    if not spreadsheet.is_available():
        print("(d) spreadsheet: not measured, soffice (Debian: libreoffice-calc-nogui) not found")
        return
    known = assess_batch.as_objects(assess_batch.portfolio(count), count)
    seconds, apart = spreadsheet.time_a_system([replace(s, walls=(), leaks=()) for s in known])
    took = 1e6 * seconds
    print(f"{'(d) spreadsheet, ledger only':32}{took:10.2f}  {took / best:8.2f}")
    print(f"largest difference of a leak probability: {apart:.1e}")


if __name__ == "__main__":
    main()
