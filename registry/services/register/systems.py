"""Register facts: sites, systems, pipe runs, fittings. Each change leaves a record."""

from datetime import date, datetime
from hashlib import sha256
from typing import Any

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext

from registry.chain import canonical_json
from registry.corrosion.dimensions import dimensions_with_wall, pipe_dimensions
from registry.kinds.facts import FACTS_AMENDED, PIPE_ENTERED, SYSTEM_ENTERED
from registry.models import Fitting, Organisation, PipeRun, Record, Site, System, User
from registry.services.assessments import follow_ledger
from registry.services.derive import rederive
from registry.services.ledger import RecordError, announce, append, check_not_superseded, lock
from registry.services.locking import hold, lock_all
from registry.services.owner_ledger import note_changes
from registry.services.register.unread import check_nothing_unread
from registry.translation import _

SITE_FACTS = (
    "name", "address", "time_zone", "altitude_m", "water_temperature_k",
    "measured_dissolved_oxygen_mg_l",
)  # fmt: skip
CHANGED_MEANWHILE = _(
    "Somebody changed this site after you opened the page. Open it once more "
    "beside this one and see what is new; saving again writes what stands "
    "here."
)
SYSTEM_FACTS = (
    "tag", "kind", "hazard", "design_pressure_gauge_pa", "rated_pressure_gauge_pa",
    "service_pressure_gauge_pa", "installed_on", "installed_precision", "gas_supply",
    "supply_n2_percent", "generator_flow_m3_s", "consequence_class", "volume_override_m3",
    "volume_override_note", "leaks_known_since",
)  # fmt: skip
INSTALLED = ("installed_on", "installed_precision")
PIPE_FACTS = (
    "role", "material", "schedule", "nominal_size", "outside_diameter_mm", "wall_mm", "wall_basis",
    "length_m", "joint", "installed_on", "installed_precision",
)  # fmt: skip
FITTING_FACTS = (
    "kind", "label", "order", "location", "serial", "calibrated_on", "fitted_on", "removed_on"
)  # fmt: skip


@transaction.atomic
def add_site(*, owner: Organisation, added_by: User | None = None, **facts) -> Site:
    site = Site(owner=owner, **facts)
    site.full_clean()
    site.save()
    note_changes(owner, by=added_by, now=timezone.now())
    return site


def site_digest(site: Site) -> str:
    """Of a site's facts, so that somebody who changes them can say which they had before them."""
    return sha256(canonical_json(facts_of(site, SITE_FACTS)).encode()).hexdigest()


@transaction.atomic
def amend_site(
    *, site: Site, recorded_by: User, seen: str = "", now: datetime | None = None, **facts
) -> Site:
    """Change a site's facts; its systems are derived again, since altitude matters to them.

    `seen` is the digest of the facts that the person had before them: what somebody else changed
    since is not overwritten unread.
    """
    hold(site)
    lock_all(System.objects.filter(site=site))
    site.refresh_from_db()
    if seen and seen != site_digest(site):
        raise RecordError({"": CHANGED_MEANWHILE})
    for name, value in facts.items():
        setattr(site, name, value)
    site.full_clean()
    site.save()
    now = now or timezone.now()
    follow_ledger([rederive(system, now=now) for system in site.systems.all()], now)
    note_changes(site.owner, by=recorded_by, now=now)
    return site


@transaction.atomic
def add_system(*, site: Site, recorded_by: User, now: datetime | None = None, **facts) -> System:
    now = now or timezone.now()
    system = System(site=site, **facts)
    system.full_clean()
    system.save()
    facts = _system_facts(system) | {"site": site.name}
    _write(system, SYSTEM_ENTERED.code, facts, recorded_by, now)
    return system


def _system_facts(system: System) -> dict[str, Any]:
    building = system.building.name if system.building else None
    return facts_of(system, SYSTEM_FACTS) | {"building": building}


def _changes(before: dict[str, Any], after: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """What differs; a day and how exactly it is known belong together."""
    changed = {name for name in after if after[name] != before[name]}
    if changed & set(INSTALLED):
        changed |= set(INSTALLED)
    return {name: {"from": before[name], "to": after[name]} for name in after if name in changed}


@transaction.atomic
def amend_system(
    *,
    system: System,
    recorded_by: User,
    seen: int | None = None,
    now: datetime | None = None,
    **facts,
) -> System:
    """Change register facts; the ledger keeps what changed, from what, to what.

    `seen` is the next number of the ledger when the person read the facts: what somebody else
    changed since is not overwritten unread.
    """
    now = now or timezone.now()
    locked = lock(system)
    if seen is not None:
        check_nothing_unread(locked, seen, facts, units=recorded_by.display_units)
    before = _system_facts(locked)
    for name, value in facts.items():
        setattr(locked, name, value)
    locked.full_clean()
    check_materials(locked, list(locked.pipe_runs.current()))
    changed = _changes(before, _system_facts(locked))
    locked.save()
    if changed:
        _write(locked, FACTS_AMENDED.code, changed, recorded_by, now)
    return locked


def pipe_wall(
    *, material: str, nominal_size: str, schedule: str = "", wall_mm: float | None = None
) -> dict[str, Any]:
    """Outside diameter, wall and where the wall comes from; raises RecordError naming the field."""
    try:
        if wall_mm:
            size = dimensions_with_wall(material=material, nps=nominal_size, wall=wall_mm / 1000)
        else:
            size = pipe_dimensions(material=material, nps=nominal_size, schedule=schedule)
    except ValueError as error:
        field = "wall_mm" if wall_mm else ("nominal_size" if schedule else "schedule")
        raise RecordError({field: str(error)}) from error
    return {
        "nominal_size": size.nominal_size,
        "outside_diameter_mm": round(size.outside_diameter_m * 1000, 4),
        "wall_mm": round(size.wall_m * 1000, 4),
        "wall_basis": "given" if wall_mm else "table",
    }


def check_materials(system: System, runs: list[PipeRun]) -> None:
    """Plastic pipe must not hold compressed gas: it shatters (ASTM F442; from memory)."""
    holds_gas = system.is_gas_filled or system.gas_supply == System.GasSupply.COMPRESSOR
    if holds_gas and any(run.material == PipeRun.Material.CPVC for run in runs):
        raise RecordError(
            {
                "material": gettext(
                    "CPVC cannot be in a gas-filled system: compressed gas can shatter it. "
                    "Correct the material, or the kind of system."
                )
            }
        )


@transaction.atomic
def add_pipe_run(
    *,
    system: System,
    recorded_by: User,
    role: str,
    material: str,
    nominal_size: str,
    length_m: float,
    schedule: str = "",
    wall_mm: float | None = None,
    installed_on: date | None = None,
    installed_precision: str | None = None,
    joint: str = PipeRun.Joint.UNKNOWN,
    supersedes: PipeRun | None = None,
    now: datetime | None = None,
) -> PipeRun:
    now = now or timezone.now()
    locked = lock(system)
    if supersedes and supersedes.record:
        check_not_superseded(supersedes.record)
    run = PipeRun(
        system=locked,
        role=role,
        material=material,
        schedule=schedule,
        length_m=length_m,
        joint=joint,
        installed_on=installed_on or locked.installed_on,
        installed_precision=installed_precision or locked.installed_precision,
        supersedes=supersedes,
        **pipe_wall(
            material=material, nominal_size=nominal_size, schedule=schedule, wall_mm=wall_mm
        ),
    )
    check_materials(locked, [run])
    run.full_clean(exclude=["record"])
    run.record = _write(
        locked, PIPE_ENTERED.code, facts_of(run, PIPE_FACTS), recorded_by, now,
        supersedes=supersedes.record if supersedes else None, is_announced=False,
    )  # fmt: skip
    run.save()
    announce(run.record, now)
    return run


@transaction.atomic
def add_fitting(
    *, system: System, recorded_by: User, now: datetime | None = None, **facts
) -> Fitting:
    locked = lock(system)
    fitting = Fitting(system=locked, **facts)
    fitting.full_clean()
    fitting.save()
    details = {"fitting": facts_of(fitting, FITTING_FACTS)}
    _write(locked, FACTS_AMENDED.code, details, recorded_by, now or timezone.now())
    return fitting


@transaction.atomic
def amend_fitting(
    *, fitting: Fitting, recorded_by: User, now: datetime | None = None, **facts
) -> Fitting:
    locked = lock(fitting.system)
    before = facts_of(Fitting.objects.get(pk=fitting.pk), FITTING_FACTS)
    for name, value in facts.items():
        setattr(fitting, name, value)
    fitting.full_clean()
    fitting.save()
    details = {"fitting": {"from": before, "to": facts_of(fitting, FITTING_FACTS)}}
    _write(locked, FACTS_AMENDED.code, details, recorded_by, now or timezone.now())
    return fitting


def facts_of(row: models.Model, names: tuple[str, ...]) -> dict[str, Any]:
    """The named facts as JSON can hold them."""
    values = {name: getattr(row, name) for name in names}
    return {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in values.items()
    }


def _write(
    system: System,
    kind: str,
    details: dict[str, Any],
    recorded_by: User,
    now: datetime,
    *,
    supersedes: Record | None = None,
    is_announced: bool = True,
) -> Record:
    written = append(
        system=system,
        kind=kind,
        occurred_at=now,
        details=details,
        recorded_by=recorded_by,
        supersedes=supersedes,
        now=now,
    )
    if is_announced:
        announce(written, now)
    return written
