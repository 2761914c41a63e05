"""The code of a kind stands where it is defined, in the demo and in tests, and nowhere else."""

import re
from pathlib import Path

from registry.kinds import KINDS

ROOT = Path(__file__).parents[3]
CODE = re.compile(r"[\"']([a-z]+\.[a-z_]+)[\"']")
HOMES = (
    "registry/kinds/",
    "registry/demo/",
    "/migrations/",
    "registry/proof/verify.py",  # goes out alone, in every package
)
RULES = (
    "scheduling/rules/",
    "scheduling/follow_ups/",
    "scheduling/templates/scheduling/task_log.html",
)


def test_no_code_of_a_kind_is_written_outside_its_definition():
    found = []
    for app in ("registry", "scheduling", "reports"):
        for path in sorted((ROOT / app).rglob("*")):
            name = path.relative_to(ROOT).as_posix()
            if path.suffix not in (".py", ".html") or any(home in name for home in HOMES + RULES):
                continue
            codes = KINDS.keys() & set(CODE.findall(path.read_text(encoding="utf-8")))
            found += [f"{name}: {code}" for code in sorted(codes)]
    assert found == []
