"""The same ledger in a general-purpose spreadsheet, recalculated by LibreOffice Calc, headless.

Coefficients of runs and spans are typed in; the sheet does the oxygen ledger, the depths, the
tails over the model's multipliers and 9 time points, the belief after "no leak so far" and the leak
probability within each horizon: less than the model does, so the comparison favours the sheet.
"""

import shutil
import subprocess
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from registry.corrosion.assess import HORIZONS, assess_many
from registry.corrosion.columns import batch_from
from registry.corrosion.evidence import MEAN_DATING
from registry.corrosion.inputs import SystemInput
from registry.corrosion.prior import NODES
from tests.benchmarks.plain_python import Ledger, _log_prior, _nodes, _runs
from tests.benchmarks.tables import Table

TIMES = (0.0, *HORIZONS, None)
"""Years from now; None for when the watch for leaks ended, of which the ledger's two amounts are
typed in."""

COLUMNS = [get_column_letter(n) for n in range(1, NODES + 1)]
LAST_NODE = COLUMNS[-1]


def is_available() -> bool:
    return shutil.which("soffice") is not None


def time_a_system(systems: list[SystemInput]) -> tuple[float, float]:
    """Seconds a system to read, recalculate and write the sheet, start-up taken off, and the
    largest difference of a leak probability from the model's."""
    with tempfile.TemporaryDirectory() as folder:
        few, _ = _recalculated(systems[:1], Path(folder) / "one")
        many, values = _recalculated(systems, Path(folder) / "all")
    ours = assess_many(batch_from(systems)).leak_probability
    difference = float(np.abs(np.array(values) - ours).max())
    return max(many - few, 0.0) / (len(systems) - 1), difference


def table(systems: list[SystemInput], arrays_us: float) -> Table:
    """Beside the best time of the arrays, measured just before."""
    if not is_available():
        note = "Not measured: soffice was not found (Debian: libreoffice-calc-nogui)."
        return Table(TITLE, HEADS, [], note)
    seconds, apart = time_a_system([replace(one, walls=(), leaks=()) for one in systems])
    took = 1e6 * seconds
    rows = [
        (f"spreadsheet, {len(systems):,} systems", f"{took:.2f}", f"{took / arrays_us:.2f}"),
        ("(a) arrays", f"{arrays_us:.2f}", "1.00"),
    ]
    return Table(TITLE, HEADS, rows, f"Leak probabilities differ by {apart:.1e} at most.")


TITLE = "(d) The same ledger in LibreOffice Calc, recalculated headless"
HEADS = ("form", "us a system", "times (a)")


def _recalculated(systems: list[SystemInput], folder: Path) -> tuple[float, list[list[float]]]:
    """Seconds of the whole conversion, and the leak probabilities the sheet found."""
    folder.mkdir()
    _workbook(systems).save(folder / "ledger.xlsx")
    command = [
        "soffice",
        f"-env:UserInstallation=file://{folder}/profile",
        "--headless",
        "--convert-to",
        "xlsx",
        "--outdir",
        str(folder / "out"),
        str(folder / "ledger.xlsx"),
    ]
    begin = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, timeout=1200)
    took = time.perf_counter() - begin
    sheet = load_workbook(folder / "out" / "ledger.xlsx", data_only=True)["leaks"]
    return took, [list(row) for row in sheet.iter_rows(values_only=True)]


def _workbook(systems: list[SystemInput]) -> Workbook:
    book = Workbook(write_only=True)
    sheets = {
        name: book.create_sheet(name)
        for name in ("nodes", "spans", "systems", "runs", "tails", "belief", "leaks")
    }
    span, run = 1, 1
    for row, system in enumerate(systems, start=1):
        theta = _nodes(system)
        sheets["nodes"].append(theta)
        sheets["nodes"].append(_log_prior(system, theta))
        runs, consumption = _runs(system)
        ledger = Ledger(system, consumption)
        _spans(sheets["spans"], ledger, span)
        last = span + len(ledger.spans) - 1
        sheets["systems"].append(_system_row(ledger, row, span, last))
        for item in runs:
            sheets["runs"].append(_run_row(item, row, run))
            run += 1
        _results(sheets, row, run - len(runs), run - 1)
        span = last + 1
    return book


def _spans(sheet, ledger: Ledger, first: int) -> None:
    """Start, oxygen, settled, decay, years and integral of each span; the last one is open."""
    ends = [span.start_yr for span in ledger.spans[1:]] + [None]
    for at, (span, end) in enumerate(zip(ledger.spans, ends, strict=True), start=first):
        supply = span.turnover_per_yr if ledger.system.has_pools else 0.0
        decay = supply + ledger.consumption
        years = 0.0 if end is None else end - span.start_yr
        settled = span.makeup_oxygen * supply / decay
        sheet.append([span.start_yr, span.oxygen, settled, decay, years, _integral(at, f"E{at}")])


def _integral(row: int, years: str, sheet: str = "") -> str:
    b, c, d = (f"{sheet}{column}{row}" for column in "BCD")
    return f"={c}*{years}+({b}-{c})*(1-EXP(-{d}*{years}))/{d}"


def _system_row(ledger: Ledger, row: int, first: int, last: int) -> list:
    """Now, what is known to date, future rates; exposure and dissolved oxygen at each time."""
    s = ledger.system
    unknown = max(ledger.known_from - s.installed_yr, 0.0)
    water = ledger.dissolved_in(s.now_yr)
    values = [s.now_yr, ledger.unknown_rate * unknown, ledger.future_rate, water]
    values.append(ledger.dissolved * ledger.future_fills)
    open_span = f"(A{row}+{{h}}-spans!A{last})"
    until = max(s.now_yr - MEAN_DATING * s.assumptions.leak_dating_years, s.installed_yr)
    for horizon in TIMES[:-1]:
        part = _integral(last, open_span.format(h=horizon), "spans!")[1:]
        values.append(f"=B{row}+SUM(spans!F{first}:F{last})+C{row}*{horizon}+{part}")
    values.append(ledger.exposure(until))
    values.extend(f"=D{row}+E{row}*{horizon}" for horizon in TIMES[:-1])
    return [*values, ledger.dissolved_in(until)]


def _run_row(run, system: int, row: int) -> list:
    """Coefficients, and wall over (Gumbel scale times depth) at each time."""
    values = [run.per_exposure, run.per_dissolved, run.reach, run.weight]
    for i in range(len(TIMES)):
        gas, water = (get_column_letter(6 + i + k) for k in (0, len(TIMES)))
        depth = f"A{row}*systems!{gas}{system}+B{row}*systems!{water}{system}"
        values.append(f"=C{row}/MAX({depth},1E-12)")
    return values


def _results(sheets, system: int, first_run: int, last_run: int) -> None:
    """Two rows of nodes a system: its multipliers, and the logarithms of their prior weights."""
    top = (system - 1) * len(TIMES) + 1
    theta, prior = 2 * system - 1, 2 * system
    for i in range(len(TIMES)):
        column = get_column_letter(5 + i)
        q = f"runs!{column}${first_run}:{column}${last_run}"
        weight = f"runs!$D${first_run}:$D${last_run}"
        sheets["tails"].append(
            [
                f"=SUMPRODUCT({weight}/(EXP(({q}/nodes!{n}{theta}+80"
                f"-ABS({q}/nodes!{n}{theta}-80))/2)-1))"
                for n in COLUMNS
            ]
        )
    now, *later, watched = (f"tails!A{top + i}:{LAST_NODE}{top + i}" for i in range(len(TIMES)))
    last = top + len(TIMES) - 1
    sheets["belief"].append(
        [f"=EXP(nodes!{n}{prior}-tails!{n}{last}+MIN({watched}))" for n in COLUMNS]
    )
    belief = f"belief!A{system}:{LAST_NODE}{system}"
    sheets["leaks"].append(
        [f"=1-SUMPRODUCT({belief},EXP({now}-{then}))/SUM({belief})" for then in later]
    )
