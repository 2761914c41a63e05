"""Nitrogen for many follow-ups at once: by their plans, corrected by what was used before.

The same planner as the page of a run, read for all systems in a handful of queries.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from registry.atmosphere_rows.spans import span_at
from registry.corrosion.cylinders import cylinder_sizes, usable_nitrogen
from registry.corrosion.inerting import PlanInputs
from registry.kinds.steps import FILLED
from registry.models import AtmosphereSpan, InertingRun, PipeRun, Record, System
from registry.quantities import PSI
from registry.runs.planning import opening_answers, plan_inerting
from scheduling.models import Task

PARTS = 10
"""A job is rounded up to a tenth of a cylinder, a van and day to whole ones."""
RESERVE_GAUGE_PA = 200 * PSI
LEAST_FACTOR, MOST_FACTOR = 0.5, 3.0
"""Gas used against gas planned: beyond these a log is more likely wrong than a pipe. Assumed."""


@dataclass(frozen=True)
class Gas:
    """Nitrogen of one job in m3 at 101.325 kPa and 21.1 C, and what one cylinder gives."""

    m3: float = 0.0
    usable_m3: float = 1.0
    factor: float = 1.0  # by which the last run's use corrects the plan
    why: str = ""  # why it cannot be counted

    @property
    def parts(self) -> int:
        """Tenths of a cylinder, rounded up."""
        return math.ceil(PARTS * self.m3 / self.usable_m3 - 1e-9)


def whole_cylinders(parts: int) -> int:
    return -(-parts // PARTS)


def gas_for(tasks: Iterable[Task], now: datetime, *, cylinder: str) -> dict[int, Gas]:
    """By key of the task, for those that are inerting runs; the others use none.

    `cylinder`: a key of `cylinder_sizes`. A run under way counts with the plan it was begun with.
    """
    wanted = [task for task in tasks if task.work.is_inerting_run]
    keys = {task.system_id for task in wanted}
    if not keys:
        return {}
    rows = System.objects.filter(pk__in=keys).with_volume()
    systems = {row.pk: row for row in rows.select_related("site__owner__policy")}
    read = _Read.of(keys)
    by_system = {pk: _gas(system, read, now, cylinder) for pk, system in systems.items()}
    return {task.pk: by_system[task.system_id] for task in wanted}


@dataclass(frozen=True)
class _Read:
    spans: Mapping[int, list[AtmosphereSpan]]
    runs: Mapping[int, dict[str, Any]]  # plans of runs under way
    cpvc: frozenset[int]
    factors: Mapping[int, float]

    @classmethod
    def of(cls, keys: set[int]) -> "_Read":
        spans: dict[int, list[AtmosphereSpan]] = {}
        for span in AtmosphereSpan.objects.filter(system__in=keys).order_by("starts_at"):
            spans.setdefault(span.system_id, []).append(span)
        runs = InertingRun.objects.filter(system__in=keys, status=InertingRun.Status.OPEN)
        cpvc = PipeRun.objects.current().filter(system__in=keys, material=PipeRun.Material.CPVC)
        return cls(
            spans=spans,
            runs=dict(runs.values_list("system", "plan")),
            cpvc=frozenset(cpvc.values_list("system", flat=True)),
            factors=used_factors(keys),
        )


def _gas(system: Any, read: _Read, now: datetime, cylinder: str) -> Gas:
    size = cylinder_sizes()[cylinder]
    usable = float(
        usable_nitrogen(
            size.water_volume_m3,
            size.full_pressure_gauge_pa,
            RESERVE_GAUGE_PA,
            atmosphere=system.site.atmosphere_pa,
        )
    )
    factor = read.factors.get(system.pk, 1.0)
    if plan := read.runs.get(system.pk):
        planned = plan.get("nitrogen_to_load_m3")
        return Gas((planned or 0.0) * factor, usable, factor)
    if not system.volume_m3:
        return Gas(0.0, usable, why=gettext("The register holds no pipe; measure first."))
    if system.pk in read.cpvc or system.kind == System.Kind.DELUGE:
        return Gas(0.0, usable, why=gettext("The register forbids filling this pipe with gas."))
    span = span_at(read.spans.get(system.pk, []), now)
    oxygen = span.oxygen_mid if span else None
    needed = plan_inerting(_inputs(system, oxygen, cylinder)).nitrogen_to_load_m3
    if needed is None:
        return Gas(0.0, usable, why=gettext("By the plan no number of fills is enough."))
    return Gas(needed * factor, usable, factor)


def _inputs(system: Any, oxygen: float | None, cylinder: str) -> PlanInputs:
    answers = opening_answers(system, oxygen=oxygen, volume_m3=system.volume_m3)
    return PlanInputs(
        **answers,
        atmosphere_pa=system.site.atmosphere_pa,
        rated_pressure_gauge_pa=system.rated_pressure_gauge_pa,
        cylinder=cylinder_sizes()[cylinder],
        reserve_pressure_gauge_pa=RESERVE_GAUGE_PA,
    )


def used_factors(keys: Iterable[int]) -> dict[int, float]:
    """By system: gas used against gas planned a fill, in its last finished run that logged it.

    Only where every fill of the run says how much gas it used.
    """
    finished = (InertingRun.Status.RETURNED, InertingRun.Status.ACCEPTED)
    runs = InertingRun.objects.filter(system__in=keys, status__in=finished).order_by("opened_at")
    last = {run.system_id: run for run in runs}
    fills = Record.objects.current().filter(
        inerting_run__in=[run.pk for run in last.values()], kind=FILLED.code
    )
    used: dict[int, list[float | None]] = {}
    for system, details in fills.values_list("system", "details"):
        used.setdefault(system, []).append(details.get("gas_used_m3"))
    found = {}
    for system, amounts in used.items():
        planned = last[system].plan.get("nitrogen_per_fill_m3")
        known = [amount for amount in amounts if amount]
        if planned and len(known) == len(amounts):
            ratio = sum(known) / (planned * len(known))
            found[system] = min(MOST_FACTOR, max(LEAST_FACTOR, ratio))
    return found
