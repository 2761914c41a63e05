"""Follow-ups as pages show them: the list in its groups, and one job with what its worker needs."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Case, IntegerField, Value, When
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.kinds import KINDS
from registry.models import (
    AtmosphereSpan,
    Fitting,
    InertingRun,
    Membership,
    Organisation,
    OwnerPolicy,
    ProtectionSpan,
    Record,
    System,
    User,
)
from registry.models.systems import Volume
from registry.quantities import PSI
from registry.words.details import one_line
from scheduling.follow_ups.impairments import out_of_service
from scheduling.follow_ups.standpoint import present_stretch
from scheduling.models import Place, Task
from scheduling.models.querysets import TaskQuerySet, codes_of_runs, protection_first
from scheduling.orders.due_words import SOON, DueWords, due_words, group_of
from scheduling.planning.facts import placed
from scheduling.rules.types import LogOffer

GROUPS = {
    "protection": _("Protection is out"),
    "overdue": _("Overdue"),
    "soon": _("In the next 7 days"),
    "later": _("Later"),
}
WORKING_FITTINGS = (
    Fitting.Kind.INJECTION_PORT,
    Fitting.Kind.VENT,
    Fitting.Kind.MAIN_DRAIN,
    Fitting.Kind.AUXILIARY_DRAIN,
    Fitting.Kind.LOW_POINT_DRAIN,
)
LAST_READINGS = 4
USUAL_FILL_GAUGE_PA = 30 * PSI  # common practice, no source


@dataclass(frozen=True)
class TaskRow:
    task: Task
    due: DueWords

    @property
    def protection(self) -> str:
        """Where it is not out of service, which is said by another line."""
        state = getattr(self.task, "protection_state", None)
        if state == ProtectionSpan.State.IN_SERVICE:
            return gettext("Protection in service")
        return gettext("Protection not known")


@dataclass(frozen=True)
class TaskGroup:
    code: str
    name: str
    rows: list[TaskRow]


def work_order(tasks: TaskQuerySet, user: User, now: datetime) -> TaskQuerySet:
    """Protection that is out comes before all; then late, the coming week, the rest, and within
    each, orders first for those who carry them out, and the earliest first for everybody."""
    urgency = Case(
        When(due_at__lte=now, then=Value(0)),
        When(due_at__lte=now + SOON, then=Value(1)),
        default=Value(2),
        output_field=IntegerField(),
    )
    order = Case(When(kind__in=codes_of_runs(), then=Value(0)), default=Value(1))
    by_kind = [order] if works_for_contractor(user) else []
    return tasks.order_by(protection_first(), urgency, *by_kind, "due_at", "pk")


def works_for_contractor(user: User) -> bool:
    return Membership.objects.filter(
        user=user, organisation__kind=Organisation.Kind.CONTRACTOR
    ).exists()


def groups_of(tasks: Iterable[Task], now: datetime) -> list[TaskGroup]:
    rows: dict[str, list[TaskRow]] = {code: [] for code in GROUPS}
    for task in tasks:
        rows[group_of(task, now)].append(TaskRow(task, due_words(task, now)))
    return [TaskGroup(code, str(GROUPS[code]), found) for code, found in rows.items() if found]


@dataclass(frozen=True)
class Reading:
    record: Record
    said: str


@dataclass(frozen=True)
class Job:
    """What the worker needs to know before setting out."""

    due: DueWords
    stretch: list[AtmosphereSpan]
    protection: ProtectionSpan | None
    further_causes: list[Record]
    readings: list[Reading]
    materials: list[str]
    fittings: list[Fitting]
    volume: Volume
    fill_pressure_gauge_pa: float
    fill_pressure_basis: str
    target_n2_percent: float
    run: InertingRun | None
    out_since: datetime | None
    log_links: list["LogLink"]
    place: Place | None

    @classmethod
    def of(cls, task: Task, *, units: str, now: datetime) -> "Job":
        system = task.system
        run = system.inerting_runs.filter(status__in=["open", "accepted"]).first()
        fill_pressure_gauge_pa, fill_pressure_basis = _fill_pressure(run)
        return cls(
            due=due_words(task, now),
            stretch=present_stretch(system.spans.filter(starts_at__lte=now).order_by("-starts_at")),
            protection=system.protection_spans.order_by("-starts_at").first(),
            further_causes=list(task.further_causes.all()),
            readings=_last_readings(system, units),
            materials=_materials(system),
            fittings=list(system.fittings.filter(kind__in=WORKING_FITTINGS, removed_on=None)),
            volume=system.volume(),
            fill_pressure_gauge_pa=fill_pressure_gauge_pa,
            fill_pressure_basis=fill_pressure_basis,
            target_n2_percent=OwnerPolicy.for_owner(system.site.owner).target_n2_percent,
            run=run,
            out_since=out_of_service([system.pk]).get(system.pk),
            log_links=[_log_link(offer, system, run) for offer in task.work.log],
            place=placed([system]).get(system.pk),
        )


@dataclass(frozen=True)
class LogLink:
    label: str
    url: str


def _log_link(offer: LogOffer, system: System, run: InertingRun | None) -> LogLink:
    """Where the work is logged: the form of a kind of record, or the inerting run."""
    if offer.page:
        url = reverse(offer.page, args=[system.pk])
    elif offer.kind:
        url = reverse("registry:record-new", args=[system.pk, offer.kind.code])
    elif run:
        return LogLink(gettext("Continue the inerting run"), run.get_absolute_url())
    else:
        url = reverse("registry:run-plan", args=[system.pk])
    return LogLink(gettext(offer.label), url)


def _last_readings(system: System, units: str) -> list[Reading]:
    kinds = [code for code, kind in KINDS.items() if kind.shows_gas]
    found = system.records.current().filter(kind__in=kinds).order_by("-occurred_at", "-sequence")
    return [
        Reading(record, one_line(record.definition, record.details, units))
        for record in found[:LAST_READINGS]
    ]


def _fill_pressure(run: InertingRun | None) -> tuple[float, str]:
    if run:
        return run.fill_pressure_gauge_pa, gettext("as planned for the run under way")
    return USUAL_FILL_GAUGE_PA, gettext("usual practice; the plan settles it")


def _materials(system: System) -> list[str]:
    runs = system.pipe_runs.current()
    return sorted({run.get_material_display() for run in runs})
