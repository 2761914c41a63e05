"""Readings and leaks of a ledger as evidence on a run of pipe; what cannot be used says why."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from registry.assess.books import Book, Pipe
from registry.assess.clock import YEAR, years
from registry.atmosphere import LedgerItem
from registry.corrosion.constants import DENSITY_STEEL
from registry.corrosion.inputs import IN_MODEL, POOL_KINDS, CouponReading, Leak, WallReading
from registry.corrosion.rates import coupon_rate
from registry.kinds import KINDS
from registry.kinds.meaning import PipeEvidence

SECONDS_PER_YEAR = YEAR.total_seconds()
MM = 1e-3


@dataclass(frozen=True, slots=True)
class JudgedRecord:
    """A record and what was made of it: used on a run (None: not known which), or why not."""

    record_id: int
    kind: str
    run: int | None
    why_not: str = ""


@dataclass
class Evidence:
    walls: list[WallReading] = field(default_factory=list)
    coupons: list[CouponReading] = field(default_factory=list)
    leaks: list[Leak] = field(default_factory=list)
    judged: list[JudgedRecord] = field(default_factory=list)
    found_wet: int = 0
    found_clear: int = 0


def evidence_of(book: Book) -> Evidence:
    found = Evidence()
    for row in book.records:
        kind = KINDS.get(row.kind)
        if kind and kind.evidence:
            if kind.evidence is PipeEvidence.INSIDE and book.system.kind not in POOL_KINDS:
                continue
            run, why_not = JUDGES[kind.evidence](found, row, book.runs)
            found.judged.append(JudgedRecord(row.id, row.kind, run, why_not))
    return found


Verdict = tuple[int | None, str]


def _wall(found: Evidence, row: LedgerItem, runs: Sequence[Pipe]) -> Verdict:
    run = _measured_run(row, runs)
    if run is None:
        return None, "No pipe run of this size is in the register."
    wall_m = row.details["wall_mm"] * MM
    if wall_m <= 0:
        return run, "A wall of zero is a leak; enter it as one."
    error_mm = row.details.get("error_mm")
    found.walls.append(
        WallReading(
            run,
            years(row.occurred_at),
            wall_m,
            is_least_of_scan=row.details.get("method") != "single_spot",
            error_m=None if error_mm is None else error_mm * MM,
        )
    )
    return run, ""


def _measured_run(row: LedgerItem, runs: Sequence[Pipe]) -> int | None:
    """The run named; else that of this size, of the role named if there is one, the longest of
    several. A run corrected since has another name, and is found by its size."""
    named_run = row.details.get("run")
    chosen = [at for at, run in enumerate(runs) if named_run and str(run.uuid) == named_run]
    if chosen:
        return chosen[0]
    size, role = row.details.get("nominal_size", "").strip(' "'), row.details.get("run_role")
    sized = [at for at, run in enumerate(runs) if run.nominal_size == size]
    named = [at for at in sized if runs[at].role == role]
    return _longest(named or sized, runs)


def _longest(rows: Sequence[int], runs: Sequence[Pipe]) -> int | None:
    return max(rows, key=lambda at: (runs[at].length_m, -at), default=None)


def _coupon(found: Evidence, row: LedgerItem, runs: Sequence[Pipe]) -> Verdict:
    if row.details.get("material") == "zinc":
        return None, "A zinc coupon says nothing of the steel."
    run = _longest([at for at, pipe in enumerate(runs) if pipe.material in IN_MODEL], runs)
    if run is None:
        return None, "No steel pipe is in the register to compare it with."
    mass, area = row.details["mass_loss_kg"], row.details["area_m2"]
    exposed = row.details["exposed_s"]
    if min(mass, area, exposed) <= 0:
        return run, "Needs mass lost, area and time above zero."
    rate = float(coupon_rate(mass, DENSITY_STEEL, area, exposed)) * SECONDS_PER_YEAR
    until = years(row.occurred_at)
    found.coupons.append(CouponReading(run, until - exposed / SECONDS_PER_YEAR, until, rate))
    return run, ""


def _leak(found: Evidence, row: LedgerItem, runs: Sequence[Pipe]) -> Verdict:
    if row.details.get("form") != "pinhole":
        return None, "Not said to be a pinhole in pipe, so it says nothing of the wall."
    role = row.details.get("run_role")
    named = [at for at, run in enumerate(runs) if run.role == role]
    run = named[0] if len(named) == 1 else None
    found.leaks.append(Leak(years(row.occurred_at), run))
    return run, ""


TRACES_OF_WATER = ("slime", "scale")


def _inside(found: Evidence, row: LedgerItem, runs: Sequence[Pipe]) -> Verdict:
    """What was seen inside the pipe tells whether gas-filled pipe holds water."""
    finding = row.details.get("finding")
    if finding in TRACES_OF_WATER:
        found.found_wet += 1
    elif finding == "clear":
        found.found_clear += 1
    else:
        return None, "Says nothing of water standing in the pipe."
    return None, ""


JUDGES: dict[PipeEvidence, Callable[[Evidence, LedgerItem, Sequence[Pipe]], Verdict]] = {
    PipeEvidence.WALL: _wall,
    PipeEvidence.COUPON: _coupon,
    PipeEvidence.LEAK: _leak,
    PipeEvidence.INSIDE: _inside,
}
