"""Readings and leaks of a ledger as evidence on a run of pipe; what cannot be used says why."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from registry.assess.books import Book, Pipe
from registry.assess.clock import YEAR, installed_years, years
from registry.atmosphere import LedgerItem
from registry.corrosion.constants import DENSITY_STEEL
from registry.corrosion.inputs import (
    DRESSED,
    IN_MODEL,
    METHODS,
    POOL_KINDS,
    CouponReading,
    Leak,
    WallReading,
)
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
    signs: set[str] = field(default_factory=set)
    sulphate_kg_m3: float | None = None


def evidence_of(book: Book) -> Evidence:
    found = Evidence()
    for row in book.records:
        kind = KINDS.get(row.kind)
        if kind and kind.evidence:
            run, why_not = JUDGES[kind.evidence](found, row, book)
            found.judged.append(JudgedRecord(row.id, row.kind, run, why_not))
    return found


Verdict = tuple[int | None, str]

NEW_PIPE_YR = 1.0
"""A wall read within this time of installation tells what the pipe was built with."""

MILL_UNDER = 0.875
"""Least share of the nominal wall that ASTM A53 allows; from memory."""

MILL_OVER = 1.125
"""A wall may be this much thicker than nominal before a reading must be of other pipe. Assumed,
as much over as ASTM A53 allows under."""


def _wall(found: Evidence, row: LedgerItem, book: Book) -> Verdict:
    runs = book.runs
    run = measured_run(row.details, runs)
    if run is None:
        return None, "No pipe run of this size is in the register."
    if doubt := wall_doubt(row.details, runs[run], years(row.occurred_at)):
        return run, doubt.text
    error_mm = row.details.get("error_mm")
    at_yr = years(row.occurred_at)
    since = installed_years(runs[run].installed_on, runs[run].installed_precision)
    found.walls.append(
        WallReading(
            run,
            at_yr,
            row.details["wall_mm"] * MM,
            method=_one_of(row.details.get("method"), METHODS, "suggested_position"),
            error_m=None if error_mm is None else error_mm * MM,
            dressed=_one_of(row.details.get("dressed"), DRESSED, "unknown"),
            is_baseline=_is_as_built(row.details["wall_mm"], runs[run], at_yr - since),
        )
    )
    return run, ""


def _one_of(given: object, known: Sequence[str], otherwise: str) -> str:
    return given if isinstance(given, str) and given in known else otherwise


class WallDoubt(NamedTuple):
    """Which answer of a wall reading cannot be of its run, and what would be right."""

    field: str
    text: str
    can_be_true: bool = True


def wall_doubt(details: Mapping[str, Any], run: Pipe, at_yr: float) -> WallDoubt | None:
    """Why a wall reading is not used as evidence on this run; None where it is."""
    wall_mm, error_mm = details["wall_mm"], details.get("error_mm")
    if wall_mm <= 0:
        return WallDoubt("wall_mm", "A wall of zero is a leak; enter it as one.", False)
    if wall_mm > MILL_OVER * run.wall_mm:
        return WallDoubt(
            "wall_mm",
            f"{wall_mm:g} mm is thicker than this pipe, which had {run.wall_mm:g} mm when new: "
            "choose the run that was read, or correct its wall in the register.",
        )
    if error_mm is not None and error_mm >= run.wall_mm:
        return WallDoubt(
            "error_mm",
            f"An error of {error_mm:g} mm is as large as the wall of {run.wall_mm:g} mm: state one "
            "standard deviation, such as 0.1 mm.",
            False,
        )
    material = details.get("material")
    if material and material != run.material:
        return WallDoubt(
            "run",
            f"The reading is of {material.replace('_', ' ')}, this run is of "
            f"{run.material.replace('_', ' ')}: choose the run that was read.",
        )
    if at_yr < installed_years(run.installed_on, run.installed_precision) - SAME_DAY:
        return WallDoubt(
            "occurred_at",
            f"It was taken before this pipe was put in ({run.installed_on}), so it is of the pipe "
            "that was there before: correct the day of one of the two.",
        )
    return None


SAME_DAY = 1.0 / 365.25


def _is_as_built(wall_mm: float, run: Pipe, age_yr: float) -> bool:
    """Thinner than a mill may deliver is no wall of new pipe but a loss, however young."""
    return age_yr <= NEW_PIPE_YR and wall_mm >= MILL_UNDER * run.wall_mm


def measured_run(details: Mapping[str, Any], runs: Sequence[Pipe]) -> int | None:
    """The run named, or the one of this size, of the role named if there is one; the longest of
    several."""
    if named := _named_run(details, runs):
        return named[0]
    size, role = details.get("nominal_size", "").strip(' "'), details.get("run_role")
    sized = [at for at, run in enumerate(runs) if run.nominal_size == size]
    by_role = [at for at in sized if runs[at].role == role]
    return _longest(by_role or sized, runs)


def _named_run(details: Mapping[str, Any], runs: Sequence[Pipe]) -> list[int]:
    key = details.get("run")
    keys = [(str(run.uuid), str(run.pk), str(run.record_id)) for run in runs]
    return [at for at, known in enumerate(keys) if key and str(key) in known]


def _longest(rows: Sequence[int], runs: Sequence[Pipe]) -> int | None:
    return max(rows, key=lambda at: (runs[at].length_m, -at), default=None)


def _coupon(found: Evidence, row: LedgerItem, book: Book) -> Verdict:
    runs = book.runs
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


def _leak(found: Evidence, row: LedgerItem, book: Book) -> Verdict:
    runs = book.runs
    if row.details.get("form") != "pinhole":
        return None, "Not said to be a pinhole in pipe, so it says nothing of the wall."
    role = row.details.get("run_role")
    by_role = [at for at, run in enumerate(runs) if run.role == role]
    named = _named_run(row.details, runs) or by_role
    run = named[0] if len(named) == 1 else None
    found.leaks.append(Leak(years(row.occurred_at), run))
    return run, ""


SIGN_OF_FINDING = {"slime": "slime", "scale": "tubercles", "clear": "clear"}


def _inside(found: Evidence, row: LedgerItem, book: Book) -> Verdict:
    """What was seen inside speaks for or against attack without oxygen in any pipe, and tells
    whether gas-filled pipe holds water."""
    sign = SIGN_OF_FINDING.get(row.details.get("finding") or "")
    if sign is None:
        return None, "Says nothing of what attacks the wall."
    found.signs.add(sign)
    if book.system.kind in POOL_KINDS:
        found.found_clear += sign == "clear"
        found.found_wet += sign != "clear"
    return None, ""


MUCH_CHLORIDE_MG_L = 250.0
"""Above this chloride speaks for attack under deposits. Common practice, no source."""

ACID_PH = 6.5
"""Below this water speaks for it too. Common practice, no source."""


def _water(found: Evidence, row: LedgerItem, book: Book) -> Verdict:
    """A sample tells of attack without oxygen, and of the sulphate that feeds it."""
    signs = set()
    if (row.number("chloride_mg_l") or 0.0) > MUCH_CHLORIDE_MG_L:
        signs.add("chloride")
    if (ph := row.number("ph")) is not None and ph < ACID_PH:
        signs.add("acid")
    if _were_found(str(row.details.get("bacteria") or "")):
        signs.add("bacteria")
    found.signs |= signs
    if (sulphate := row.number("sulphate_mg_l")) is not None:
        found.sulphate_kg_m3 = sulphate * MG_L
        return None, ""
    return None, "" if signs else "Shows nothing that speaks for attack without oxygen."


NOTHING = re.compile(
    r"<|\b(below|under|no|non|none|not|nothing|nil|zero|never|negative|neg|absent|without|sterile"
    r"|nd|n\.d|unknown|untested|pending|n/a|na)\b|^\W*0*[.,]?0+(?![.,]?\d)|^\W*$",
    re.IGNORECASE,
)
THERE = re.compile(
    r"^\W*\d[\d.,]*(?![\d.,]*-[a-z])|\d\s*(/|per\b|cfu|cells|mpn)|\b(present|positive|found|detected|growth|yes)\b",
    re.IGNORECASE,
)
"""Words of a laboratory, from memory: that nothing was found or looked for, and that they are
there. In one clause the first outranks the second: “not detected”."""


def _were_found(count: str) -> bool:
    """The field is free text. One clause that says they are there is enough; words that say
    neither count as there, unless another clause says that there is nothing."""
    clauses = [clause for clause in re.split(r"[,;:()]\s+|\bbut\b|[()]", count) if clause.strip()]
    without = [clause for clause in clauses if NOTHING.search(clause)]
    there = [clause for clause in clauses if clause not in without and THERE.search(clause)]
    return bool(there) or (bool(clauses) and not without)


MG_L = 1e-3  # kg/m3; by definition of the litre

JUDGES: dict[PipeEvidence, Callable[[Evidence, LedgerItem, Book], Verdict]] = {
    PipeEvidence.WALL: _wall,
    PipeEvidence.COUPON: _coupon,
    PipeEvidence.LEAK: _leak,
    PipeEvidence.INSIDE: _inside,
    PipeEvidence.WATER: _water,
}
