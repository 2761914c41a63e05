"""One line for each pipe run, in the columns that the import reads."""

from collections.abc import Iterator
from datetime import date
from itertools import islice

from registry.models import Organisation, PipeRun, System, User
from registry.models.systems import InstalledPrecision, installed_text

TO_FIX = "Rows still to fix"
"""How many rows of the system are not here, because they never loaded; the import passes over
this column."""
COLUMNS = (
    "Site", "Building", "System tag", "Type", "Hazard", "Pipe role", "Material", "Schedule",
    "Nominal size", "Outside diameter (mm)", "Wall (mm)", "Length (m)", "Joint", "Installed",
    "Gas supply", "Rated pressure (bar)", "Design pressure (bar)", TO_FIX,
)  # fmt: skip
NUMBERS = {
    "Outside diameter (mm)", "Wall (mm)", "Length (m)", "Rated pressure (bar)",
    "Design pressure (bar)",
}  # fmt: skip
PASCAL = 1e5
AT_ONCE = 1000
Line = list[str | float]


def register_runs(owner: Organisation, user: User):
    """The current pipe of the owner's systems that this person sees."""
    systems = System.objects.visible_to(user).filter(site__owner=owner)
    return (
        PipeRun.objects.current()
        .filter(system__in=systems.values("pk"))
        .select_related("system__site", "system__building")
        .order_by("system__site__name", "system__tag", "system_id", "pk")
    )


def register_lines(owner: Organisation, user: User) -> Iterator[Line]:
    runs = iter(register_runs(owner, user).iterator(AT_ONCE))
    while chunk := list(islice(runs, AT_ONCE)):
        yield from map(line_of, chunk)


def line_of(run: PipeRun) -> Line:
    system = run.system
    is_given = run.wall_basis == PipeRun.WallBasis.GIVEN
    return [
        system.site.name,
        system.building.name if system.building else "",
        system.tag,
        str(System.Kind(system.kind).label),
        _said(System.Hazard, system.hazard),
        str(PipeRun.Role(run.role).label),
        str(PipeRun.Material(run.material).label),
        run.schedule,
        f"{run.nominal_size} in",
        run.outside_diameter_mm if is_given else "",
        run.wall_mm if is_given else "",
        run.length_m,
        _said(PipeRun.Joint, run.joint),
        _day(run.installed_on, run.installed_precision),
        _said(System.GasSupply, system.gas_supply),
        _bar(system.rated_pressure_gauge_pa),
        _bar(system.design_pressure_gauge_pa),
        str(system.open_rows) if system.is_incomplete else "",
    ]


def as_text(cell: str | float) -> str:
    """Three decimals might be thousands where the comma parts decimals, so none end there."""
    if isinstance(cell, str):
        return cell
    text = f"{cell:.6f}".rstrip("0")
    whole, _, decimals = text.partition(".")
    return f"{whole}.{decimals}0" if len(decimals) == 3 else f"{whole}.{decimals or '0'}"


def _said(choices, code: str) -> str:
    """Nothing where nothing is recorded."""
    return "" if code == "unknown" else str(choices(code).label)


def _day(on: date, precision: str) -> str:
    is_day = precision == InstalledPrecision.DAY
    return on.isoformat() if is_day else installed_text(on, precision)


def _bar(pascal: float | None) -> str | float:
    return "" if pascal is None else round(pascal / PASCAL, 6)
