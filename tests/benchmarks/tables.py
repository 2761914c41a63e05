"""What a benchmark found, as a Markdown table under a heading with the machine it ran on."""

import os
import platform
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Table:
    title: str
    heads: tuple[str, ...]
    rows: list[tuple[str, ...]]
    note: str = ""

    def __str__(self) -> str:
        rules = ["---", *["---:"] * (len(self.heads) - 1)]
        lines = [_line(row) for row in (self.heads, rules, *self.rows)]
        note = [self.note, ""] if self.note else []
        return "\n".join([f"### {self.title}", "", f"{machine()}.", "", *lines, "", *note])


def _line(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def machine() -> str:
    """Processor, cores, interpreter and database: what a number is worth without them is little."""
    server = "PostgreSQL" if os.environ.get("DATABASE_URL", "").startswith("postgres") else "SQLite"
    return (
        f"{_processor()}, {os.cpu_count()} cores, {platform.system()}, "
        f"Python {platform.python_version()}, {server}"
    )


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    lines = info.read_text().splitlines() if info.exists() else []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, platform.machine())
