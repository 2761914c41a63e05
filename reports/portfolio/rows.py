"""Rows of the portfolio: everything a page of systems shows, read for those systems alone.

A dozen queries by key, however many systems the person may see.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypedDict
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, FloatField, OuterRef, Q, Subquery, Value

from registry.atmosphere import Oxygen
from registry.atmosphere_rows.spans import oxygen_by, span_at
from registry.kinds import KINDS
from registry.models import (
    Assessment,
    AtmosphereSpan,
    InertingRun,
    PipeRun,
    Record,
    Site,
    System,
    User,
)
from registry.models.pipes import RUSTLESS
from registry.money import Amount, Prices, expected_a_year, prices_of, replacement
from registry.strip import MARKS
from registry.templatetags.strip import ROW_YEARS
from reports.portfolio.sorting import SOMETHING_HAPPENED, with_latest
from scheduling.lateness.words import days_late, last_day
from scheduling.models import Escalation, Occurrence, Task, WorkState
from scheduling.models.querysets import codes_of_runs
from scheduling.next_deed import Deed, Standing, next_deed

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Found(TypedDict):
        """What the query adds to each system."""

        atmosphere_state: str | None
        atmosphere_since: datetime | None
        protection_state: str | None
        protection_unanswered: str | None
        impaired_since: datetime | None
        basis: str | None
        score: float | None
        band: str
        leak_in_1_yr: float | None
        leak_in_5_yr: float | None
        life_low_yr: float | None
        life_mid_yr: float | None
        life_high_yr: float | None
        delay_points: float | None
        delay_um: float | None
        score_at_visit: float | None
        has_leaked: bool
        volume_m3: float
        escalated_to: int | None

    Listed = WithAnnotations[System, Found]
else:
    Listed = System

OF_THE_LATEST = (
    "basis", "score", "band", "leak_in_1_yr", "leak_in_5_yr",
    "life_low_yr", "life_mid_yr", "life_high_yr",
)  # fmt: skip
TELLING = SOMETHING_HAPPENED | Q(kind__startswith="reading.")
BOOKED = (WorkState.BOOKED, WorkState.STARTED)


@dataclass(frozen=True, slots=True)
class Work:
    """One thing that is open at a system: a follow-up, or an inspection."""

    title: str
    ends_at: datetime  # late from here on
    is_task: bool
    pk: int
    zone: ZoneInfo
    booked_for: datetime | None = None
    crew: str = ""
    is_order: bool = False

    @property
    def due_on(self):
        return last_day(self.ends_at, self.zone)

    def days_late(self, now: datetime) -> int | None:
        return days_late(self.ends_at, self.zone, now)


@dataclass
class Row:
    """One system as the portfolio, its files and its bulk forms show it."""

    system: Listed
    now: datetime
    prices: Prices
    spans: list[AtmosphereSpan] = field(default_factory=list)
    marks: list[tuple[str, datetime]] = field(default_factory=list)
    work: list[Work] = field(default_factory=list)
    cause: tuple[str, datetime] | None = None  # the last record since the last visit
    last_event: tuple[int, str, datetime] | None = None
    replacing: Amount | None = None  # the price of all its pipe; None where there is none
    deed: Deed | None = None
    may_be_ordered: bool = False

    @property
    def tag(self) -> str:
        return self.system.tag

    @property
    def zone(self) -> ZoneInfo:
        return self.system.site.zone

    @property
    def first_work(self) -> Work | None:
        return self.work[0] if self.work else None

    @property
    def days_late(self) -> int | None:
        """Of the longest late follow-up or inspection; None where nothing is late."""
        return self.work[0].days_late(self.now) if self.work else None

    @property
    def late_count(self) -> int:
        return sum(one.ends_at <= self.now for one in self.work)

    @property
    def change(self) -> float | None:
        score, before = self.system.score, self.system.score_at_visit
        return None if score is None or before is None else score - before

    @property
    def loss(self) -> float | None:
        """Expected cost of the first leak, a year."""
        chance = self.system.leak_in_5_yr
        return None if chance is None else float(expected_a_year(chance, self.prices.leak))

    @property
    def oxygen(self) -> Oxygen | None:
        span = span_at(self.spans, self.now)
        if span is None:
            return None
        return oxygen_by(span, self.system, self.now, volume_m3=self.system.volume_m3)


def rows_of(
    keys: Sequence[int], user: User, now: datetime, *, since: datetime | None,
    columns: Collection[str] = (), is_drawn: bool = True,
) -> list[Row]:  # fmt: skip
    """Rows in the order of the keys. `since` is when the person last looked; without `is_drawn`,
    for files, nothing of the strips is read."""
    found = {system.pk: system for system in _systems(keys, now, since, columns)}
    systems = [found[key] for key in keys if key in found]
    prices = prices_of(system.site.owner_id for system in systems)
    rows = {one.pk: Row(one, now, prices[one.site.owner_id]) for one in systems}
    _add_work(rows, now)
    if is_drawn or "oxygen" in columns:
        _add_spans(rows)
    if is_drawn:
        _add_marks(rows, now)
    if since:
        _add_causes(rows, since)
    if "last_event" in columns:
        _add_last_events(rows)
    if "replacing" in columns:
        _add_replacing(rows)
    _add_deeds(rows, user)
    return list(rows.values())


def _systems(
    keys: Sequence[int], now: datetime, since: datetime | None, columns: Collection[str]
) -> Iterable[Any]:
    spans = AtmosphereSpan.objects.filter(system=OuterRef("pk"), starts_at__lte=now)
    holding = spans.order_by("-starts_at")
    systems = (
        with_latest(System.objects.filter(pk__in=keys))
        .select_related("site", "building")
        .order_by()
        .with_impairment()
        .with_protection()
        .annotate(
            atmosphere_state=Subquery(holding.values("state")[:1]),
            atmosphere_since=Subquery(holding.values("state_since")[:1]),
            has_leaked=Exists(Record.objects.pinholes().filter(system=OuterRef("pk"))),
            escalated_to=Subquery(_raised().values("level")[:1]),
            **{name: F(f"latest__{name}") for name in OF_THE_LATEST},
            delay_points=F("latest__delay_points_per_week"),
            delay_um=F("latest__delay_um_per_week"),
        )
    )
    if since:
        before = Assessment.objects.filter(
            system=OuterRef("pk"), assessed_at__lte=since, score__isnull=False
        ).order_by("-as_of", "-pk")
        systems = systems.annotate(score_at_visit=Subquery(before.values("score")[:1]))
    else:
        systems = systems.annotate(score_at_visit=Value(None, FloatField()))
    if {"oxygen", "volume"} & set(columns):
        systems = systems.with_volume()
    return systems


def _raised():
    open_ones = Escalation.objects.filter(task__system=OuterRef("pk"), task__status="open")
    return open_ones.order_by("-level")


def _add_work(rows: dict[int, Row], now: datetime) -> None:
    orders = set(codes_of_runs())
    tasks = Task.objects.open().filter(system__in=rows).order_by()
    named = ("system", "pk", "title", "due_at", "kind", "work_state", "starts_at", "crew__name")
    for system, pk, title, due_at, kind, state, starts_at, crew in tasks.values_list(*named):
        row = rows[system]
        booked_for = starts_at if state in BOOKED else None
        row.work.append(
            Work(title, due_at, True, pk, row.zone, booked_for, crew or "", kind in orders)
        )
    planned = Occurrence.objects.open().filter(system__in=rows).order_by()
    for system, pk, title, late_at in planned.values_list("system", "pk", "item__title", "late_at"):
        row = rows[system]
        row.work.append(Work(title, late_at, False, pk, row.zone))
    for row in rows.values():
        row.work.sort(key=lambda one: (one.ends_at, not one.is_task, one.pk))


def _add_spans(rows: dict[int, Row]) -> None:
    for span in AtmosphereSpan.objects.filter(system__in=rows).order_by("starts_at"):
        rows[span.system_id].spans.append(span)


def _add_marks(rows: dict[int, Row], now: datetime) -> None:
    shown = Record.objects.current().filter(kind__in=MARKS, occurred_at__gte=now - ROW_YEARS)
    of_these = shown.filter(system__in=rows, occurred_at__lte=now).order_by("occurred_at")
    for system, kind, at in of_these.values_list("system", "kind", "occurred_at"):
        rows[system].marks.append((kind, at))


def _add_causes(rows: dict[int, Row], since: datetime) -> None:
    told = Record.objects.current().filter(TELLING, system__in=rows, recorded_at__gt=since)
    for system, kind, at in told.order_by("sequence").values_list("system", "kind", "occurred_at"):
        rows[system].cause = (kind, at)


def _add_last_events(rows: dict[int, Row]) -> None:
    events = Record.objects.current().filter(SOMETHING_HAPPENED, system=OuterRef("pk"))
    latest = events.order_by("-occurred_at", "-sequence").values("pk")[:1]
    of_each = System.objects.filter(pk__in=rows).annotate(last=Subquery(latest)).values("last")
    found = Record.objects.filter(pk__in=of_each).values_list("system", "pk", "kind", "occurred_at")
    for system, pk, kind, at in found:
        rows[system].last_event = (pk, kind, at)


def _add_replacing(rows: dict[int, Row]) -> None:
    runs: dict[int, list[PipeRun]] = defaultdict(list)
    pipe = PipeRun.objects.current().filter(system__in=rows).order_by("pk")
    for run in pipe.only("system", "nominal_size", "length_m"):
        runs[run.system_id].append(run)
    for system, those in runs.items():
        rows[system].replacing = replacement(rows[system].prices, those)


def _add_deeds(rows: dict[int, Row], user: User) -> None:
    unfinished = InertingRun.objects.filter(system__in=rows, status__in=("open", "accepted"))
    runs = dict(unfinished.values_list("system", "pk"))
    rusts = _rusting(rows)
    sites = {row.system.site_id for row in rows.values()}
    recordable, manageable = _writable(sites, user)
    for pk, row in rows.items():
        order = next((one for one in row.work if one.is_order), None)
        at = Standing(
            pk=pk,
            kind=row.system.kind,
            state=row.system.atmosphere_state,
            protection=row.system.protection_state,
            run=runs.get(pk),
            order=order.pk if order else None,
            order_is_late=bool(order and order.ends_at <= row.now),
            order_is_booked=bool(order and order.booked_for),
            rusts=pk in rusts,
            may_record=row.system.site_id in recordable,
            may_manage=row.system.site_id in manageable,
        )
        row.deed, row.may_be_ordered = next_deed(at), at.may_be_ordered


def _rusting(rows: Collection[int]) -> set[int]:
    """Where nothing is known of the pipe, it is taken to rust."""
    by_system: dict[int, set[str]] = defaultdict(set)
    pipe = PipeRun.objects.current().filter(system__in=rows).order_by()
    for system, material in pipe.values_list("system", "material").distinct():
        by_system[system].add(material)
    return {pk for pk in rows if not by_system[pk] or not by_system[pk] <= RUSTLESS}


def _writable(sites: Collection[int], user: User) -> tuple[set[int], set[int]]:
    of_these = Site.objects.filter(pk__in=sites)
    return (
        set(of_these.recordable_by(user).values_list("pk", flat=True)),
        set(of_these.manageable_by(user).values_list("pk", flat=True)),
    )


def kind_words(code: str) -> str:
    kind = KINDS.get(code)
    return str(kind.label) if kind else code
