"""How hard a suite looks: all the way with THOROUGH=1, as CI does on SQLite, or as one does at a
desk, where property tests draw fewer examples and tests marked `thorough` are left out.

So marked are those that say so, and those of `long.txt`: a fifth of the tests, which take seven
eighths of the time. `make long` measures and writes that list anew.
"""

import os
import sys
from collections import defaultdict
from pathlib import Path
from xml.etree import ElementTree

THOROUGH = os.environ.get("THOROUGH", "0") not in ("", "0")
LONG_TOO = THOROUGH or os.environ.get("LONG", "0") not in ("", "0")  # CI's second database
LIST = Path(__file__).with_name("long.txt")
SHARE = 0.87  # of the time of a whole run


def many(examples: int) -> int:
    """So many where all is looked at; a sixth at a desk, and never fewer than five."""
    return examples if THOROUGH else max(5, examples // 6)


def is_left_out(item) -> bool:
    if item.get_closest_marker("thorough"):
        return not THOROUGH
    of = item.cls.__name__ if item.cls else None
    return not LONG_TOO and name_of(item.module.__name__, of, item.name) in LONG


def name_of(module: str, of: str | None, test: str) -> str:
    """Of all cases of a test at once."""
    return f"{module}{'.' + of if of else ''}::{test.partition('[')[0]}"


def write(report: Path) -> None:
    """From the report of a whole run: those with the slowest cases, until the share is reached."""
    cases = defaultdict(list)
    for case in ElementTree.parse(report).getroot().iter("testcase"):
        name = name_of(case.get("classname", ""), None, case.get("name", ""))
        cases[name].append(float(case.get("time", 0)))
    left = (1 - SHARE) * sum(map(sum, cases.values()))
    slowest_last = sorted(cases, key=lambda name: (max(cases[name]), name))
    long = set(cases)
    for name in slowest_last:
        left -= sum(cases[name])
        if left < 0:
            break
        long.discard(name)
    LIST.write_text("".join(f"{name}\n" for name in sorted(long)), encoding="utf-8")
    of = sum(len(cases[name]) for name in long)
    print(
        f"{len(long)} tests of {of} cases, out of {len(cases)} of {sum(map(len, cases.values()))}"
    )


LONG = frozenset(LIST.read_text(encoding="utf-8").split()) if LIST.exists() else frozenset()

if __name__ == "__main__":
    write(Path(sys.argv[1]))
