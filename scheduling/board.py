"""Follow-ups as pages show them: the list in its groups, and one job with what its worker needs."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Case, IntegerField, Value, When

from registry.models import AtmosphereSpan, Fitting, Membership, Organisation, Record, System, User
from scheduling.models import Task
from scheduling.querysets import TaskQuerySet
from scheduling.wording import SOON_DAYS, DueWords, due_words, group_of

GROUPS = {"overdue": "Overdue", "soon": "In the next 7 days", "later": "Later"}
WORKING_FITTINGS = (
    Fitting.Kind.INJECTION_PORT,
    Fitting.Kind.VENT,
    Fitting.Kind.MAIN_DRAIN,
    Fitting.Kind.AUXILIARY_DRAIN,
    Fitting.Kind.LOW_POINT_DRAIN,
)
LAST_READINGS = 4


@dataclass(frozen=True)
class Row:
    task: Task
    due: DueWords
    state_label: str


@dataclass(frozen=True)
class Group:
    name: str
    rows: list[Row]


def work_order(tasks: TaskQuerySet, user: User, now: datetime) -> TaskQuerySet:
    """Late first, then the coming week, then the rest; within each, orders first for those who
    carry them out, and the earliest first for everybody."""
    urgency = Case(
        When(due_at__lte=now, then=Value(0)),
        When(due_at__lte=now + timedelta(days=SOON_DAYS), then=Value(1)),
        default=Value(2),
        output_field=IntegerField(),
    )
    order = Case(When(kind=Task.Kind.REINERTING_ORDER, then=Value(0)), default=Value(1))
    by_kind = ["is_order"] if _works_for_a_contractor(user) else []
    return tasks.annotate(urgency=urgency, is_order=order).order_by(
        "urgency", *by_kind, "due_at", "pk"
    )


def _works_for_a_contractor(user: User) -> bool:
    return Membership.objects.filter(
        user=user, organisation__kind=Organisation.Kind.CONTRACTOR
    ).exists()


def groups_of(tasks: Iterable[Task], now: datetime) -> list[Group]:
    rows: dict[str, list[Row]] = {code: [] for code in GROUPS}
    labels = dict(AtmosphereSpan.State.choices)
    for task in tasks:
        row = Row(task, due_words(task, now), labels.get(task.atmosphere_state, ""))
        rows[group_of(task, now)].append(row)
    return [Group(GROUPS[code], found) for code, found in rows.items() if found]


@dataclass(frozen=True)
class Job:
    """What the worker needs to know before setting out."""

    due: DueWords
    state: AtmosphereSpan | None
    further_causes: list[Record]
    readings: list[Record]
    materials: list[str]
    fittings: list[Fitting]
    volume: object
    run: object | None

    @classmethod
    def of(cls, task: Task, now: datetime) -> "Job":
        system = task.system
        return cls(
            due=due_words(task, now),
            state=system.spans.filter(starts_at__lte=now).order_by("-starts_at").first(),
            further_causes=list(task.further_causes.all()),
            readings=_last_readings(system),
            materials=_materials(system),
            fittings=list(system.fittings.filter(kind__in=WORKING_FITTINGS, removed_on=None)),
            volume=system.volume(),
            run=system.inerting_runs.filter(status__in=["open", "accepted"]).first(),
        )


def _last_readings(system: System) -> list[Record]:
    kinds = ("reading.gas", "inerting.read", "inerting.accepted", "reading.pressure")
    found = system.records.current().filter(kind__in=kinds).order_by("-occurred_at", "-sequence")
    return list(found[:LAST_READINGS])


def _materials(system: System) -> list[str]:
    runs = system.pipe_runs.current()
    return sorted({run.get_material_display() for run in runs})
