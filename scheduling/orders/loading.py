"""What to load for a follow-up: nitrogen by whole cylinders from the plan, and what else it takes.

The plan is that of the run under way, or the one a new run would start from: large cylinders, and
the gas as the ledger last estimates it. It is a guess until the volume and the gas are measured.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil

from django.utils.translation import gettext

from registry.atmosphere_rows.spans import span_at
from registry.corrosion.cylinders import cylinder_sizes
from registry.models import Fitting, System
from registry.quantities import PSI
from registry.runs.planning import notice_text, opening_answers, plan_document, plan_for_system
from scheduling.models import Task

CYLINDER, RESERVE_GAUGE_PA = "large", 200 * PSI  # as the plan form opens


@dataclass(frozen=True)
class JobLoad:
    """What one job takes along; without cylinders, `why` says why none can be counted."""

    things: tuple[str, ...] = ()
    cylinders: int | None = None
    cylinder: str = ""
    nitrogen_m3: float | None = None
    why: str = ""
    usable_m3: float | None = None  # what one cylinder gives
    factor: float = 1.0  # by which the gas that the last run used corrects the plan


def load_for(
    task: Task,
    fittings: Sequence[Fitting],
    now: datetime,
    *,
    units: str,
    cylinder: str = CYLINDER,
    factor: float = 1.0,
) -> JobLoad:
    """`units`: those of whoever reads why there is no plan; `cylinder`: the size the company has;
    `factor`: gas used against gas planned, of the last run at the system."""
    things = tuple(map(gettext, task.work.to_load)) + tuple(_adapters(task, fittings))
    if not task.work.is_inerting_run:
        return JobLoad(things)
    plan = _plan(task.system, now, units, cylinder)
    if isinstance(plan, str):
        return JobLoad(things, why=plan)
    size = cylinder_sizes()[plan["inputs"]["cylinder"]]
    usable = plan["usable_per_cylinder_m3"]
    nitrogen = plan["nitrogen_to_load_m3"] * factor
    return JobLoad(
        things,
        plan["cylinders_to_load"] if factor == 1.0 else whole(nitrogen / usable),
        size.label,
        nitrogen,
        usable_m3=usable,
        factor=factor,
    )


def whole(cylinders: float) -> int:
    """Rounded up, but not for the last bit of a float."""
    return ceil(cylinders - 1e-9)


def _plan(system: System, now: datetime, units: str, cylinder: str) -> dict | str:
    """The plan as plain data, or why there is none."""
    run = system.inerting_runs.filter(status="open").first()
    if run:
        return run.plan
    span = span_at(list(system.spans.order_by("starts_at")), now)
    answers = opening_answers(system, oxygen=span.oxygen_mid if span else None)
    if not answers["volume_m3"]:
        return gettext(
            "The register holds no pipe, so nobody can say how much nitrogen; measure first."
        )
    answers |= {"cylinder": cylinder, "reserve_pressure_gauge_pa": RESERVE_GAUGE_PA}
    plan = plan_for_system(system, answers)
    if plan.refusal:
        return notice_text(plan.refusal, plan.inputs, units)
    if plan.cylinders_to_load is None:
        return gettext("By the plan no number of fills is enough.")
    return plan_document(plan)


def _adapters(task: Task, fittings: Sequence[Fitting]) -> Iterable[str]:
    """What the register does not show, and would be missed at the riser."""
    kinds = {fitting.kind for fitting in fittings}
    if not task.work.is_inerting_run:
        return
    if Fitting.Kind.INJECTION_PORT not in kinds:
        yield gettext("Adapter for a drain: no injection port is in the register")
    if Fitting.Kind.VENT not in kinds:
        yield gettext("Means to read at the far end: no vent is in the register")


@dataclass(frozen=True)
class VanLoad:
    """What goes on the van for all of a crew's jobs together."""

    cylinders: Sequence[tuple[str, int]]
    things: Sequence[str]
    unknown: int  # jobs whose cylinders cannot be counted


def total(loads: Iterable[JobLoad]) -> VanLoad:
    """Gas adds up and whole cylinders are counted of the sum: what one job leaves in a cylinder,
    the next one uses. Of tools one set serves every job of the day."""
    counted: dict[str, float] = {}
    things: dict[str, None] = {}
    unknown = 0
    for load in loads:
        things |= dict.fromkeys(load.things)
        unknown += bool(load.why)
        if load.cylinders:
            part = float(load.cylinders)
            if load.nitrogen_m3 is not None and load.usable_m3:
                part = load.nitrogen_m3 / load.usable_m3
            counted[load.cylinder] = counted.get(load.cylinder, 0.0) + part
    cylinders = [(label, whole(parts)) for label, parts in counted.items()]
    return VanLoad(cylinders, list(things), unknown)
