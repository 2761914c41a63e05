"""What to load for a follow-up: nitrogen by whole cylinders from the plan, and what else it takes.

The plan is that of the run under way, or the one a new run would start from: large cylinders, and
the gas as the ledger last estimates it. It is a guess until the volume and the gas are measured.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

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


def load_for(task: Task, fittings: Sequence[Fitting], now: datetime, *, units: str) -> JobLoad:
    """`units`: those of whoever reads why there is no plan."""
    things = tuple(map(gettext, task.work.to_load)) + tuple(_adapters(task, fittings))
    if not task.work.is_inerting_run:
        return JobLoad(things)
    plan = _plan(task.system, now, units)
    if isinstance(plan, str):
        return JobLoad(things, why=plan)
    size = cylinder_sizes()[plan["inputs"]["cylinder"]]
    return JobLoad(things, plan["cylinders_to_load"], size.label, plan["nitrogen_to_load_m3"])


def _plan(system: System, now: datetime, units: str) -> dict | str:
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
    answers |= {"cylinder": CYLINDER, "reserve_pressure_gauge_pa": RESERVE_GAUGE_PA}
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
    """Cylinders add up; of tools one set serves every job of the day."""
    counted: dict[str, int] = {}
    things: dict[str, None] = {}
    unknown = 0
    for load in loads:
        things |= dict.fromkeys(load.things)
        unknown += bool(load.why)
        if load.cylinders:
            counted[load.cylinder] = counted.get(load.cylinder, 0) + load.cylinders
    return VanLoad(list(counted.items()), list(things), unknown)
