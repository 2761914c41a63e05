"""What the portfolio page shows: one query plan each for the table, the counts and the sites."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, TypedDict

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    FilteredRelation,
    IntegerField,
    Min,
    OuterRef,
    Prefetch,
    Q,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce

from registry.atmosphere import Oxygen
from registry.atmosphere_rows.spans import oxygen_by, span_at
from registry.kinds import KINDS
from registry.models import (
    Assessment,
    AtmosphereSpan,
    ProtectionSpan,
    Record,
    ServiceContract,
    Site,
    System,
    User,
    Verdict,
)
from registry.pages.system import age_in_years
from registry.strip import MARKS
from registry.templatetags.strip import ROW_YEARS
from scheduling.models import Escalation, Task

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Found(TypedDict):
        """What the query adds to each system."""

        atmosphere_state: str | None
        atmosphere_since: datetime | None
        impaired_since: datetime | None
        protection_state: str | None
        volume_m3: float
        follow_ups: int
        next_due_at: datetime | None
        escalated_to: int | None
        last_event_kind: str | None
        last_event_at: datetime | None
        last_event_pk: int | None
        basis: str | None
        score: float | None
        band: str
        score_before: float | None
        scored_before: date | None
        life_low_yr: float | None
        life_mid_yr: float | None
        life_high_yr: float | None
        delay_points: float | None
        delay_um: float | None
        has_leaked: bool
        reasons: list[dict[str, Any]] | None
        evidence: dict[str, Any] | None
        marks: list[Record]

    Listed = WithAnnotations[System, Found]
else:
    Listed = System

STATES = AtmosphereSpan.State
YEAR = timedelta(days=365)
OUT = ProtectionSpan.State
WORST_PROTECTION_FIRST = Case(
    When(protection_state=OUT.IMPAIRED, then=Value(0)),
    When(protection_state=OUT.IN_SERVICE, then=Value(2)),
    default=Value(1),
    output_field=IntegerField(),
)
WORST_FIRST = (STATES.AERATED, STATES.IN_DOUBT, STATES.INERT)
SOMETHING_HAPPENED = Q(kind__startswith="event.") | Q(kind__startswith="inerting.")


def portfolio(user: User, now: datetime):
    """The person's systems with all that the table sorts and filters by."""
    events = Record.objects.current().filter(SOMETHING_HAPPENED, system=OuterRef("pk"))
    on_strip = Record.objects.current().filter(kind__in=MARKS, occurred_at__gte=now - ROW_YEARS)
    latest = events.order_by("-occurred_at", "-sequence")
    tasks = Task.objects.open().filter(system=OuterRef("pk")).order_by()
    counted = tasks.values("system").annotate(count=Count("pk")).values("count")
    next_due = tasks.values("system").annotate(due=Min("due_at")).values("due")
    raised = Escalation.objects.filter(task__system=OuterRef("pk"), task__status="open")
    return (
        System.objects.visible_to(user)
        .select_related("site", "building")
        .with_atmosphere(now)
        .with_volume()
        .with_impairment()
        .with_protection()
        .annotate(
            follow_ups=Coalesce(Subquery(counted), 0),
            next_due_at=Subquery(next_due),
            escalated_to=Subquery(raised.order_by("-level").values("level")[:1]),
            last_event_kind=Subquery(latest.values("kind")[:1]),
            last_event_at=Subquery(latest.values("occurred_at")[:1]),
            last_event_pk=Subquery(latest.values("pk")[:1]),
            protection_order=WORST_PROTECTION_FIRST,
            has_leaked=Exists(Record.objects.pinholes().filter(system=OuterRef("pk"))),
            **_risk(now),
        )
        .prefetch_related("spans", Prefetch("records", on_strip, to_attr="marks"))
    )


def _risk(now: datetime) -> dict[str, Any]:
    """The latest assessment, and the score as it was a year ago or more."""
    earlier = Assessment.objects.filter(
        system=OuterRef("pk"), as_of__lte=now.date() - YEAR, score__isnull=False
    ).order_by("-as_of", "-pk")
    names = (
        "basis",
        "score",
        "band",
        "life_low_yr",
        "life_mid_yr",
        "life_high_yr",
        "reasons",
        "evidence",
    )
    return {
        "latest": FilteredRelation("assessments", condition=Q(assessments__is_latest=True)),
        **{name: F(f"latest__{name}") for name in names},
        "delay_points": F("latest__delay_points_per_week"),
        "delay_um": F("latest__delay_um_per_week"),
        "score_before": Subquery(earlier.values("score")[:1]),
        "scored_before": Subquery(earlier.values("as_of")[:1]),
    }


@dataclass(frozen=True)
class PortfolioRow:
    """What a row of the table says beyond the columns of its query."""

    system: Listed
    now: datetime

    @property
    def spans(self) -> Sequence[AtmosphereSpan]:
        return list(self.system.spans.all())

    @property
    def oxygen(self) -> Oxygen | None:
        span = span_at(self.spans, self.now)
        if span is None:
            return None
        return oxygen_by(span, self.system, self.now, volume_m3=self.system.volume_m3)

    @property
    def since(self) -> datetime | None:
        since = self.system.atmosphere_since
        return since.astimezone(self.system.site.zone) if since else None

    @property
    def age_years(self) -> int:
        today = self.now.astimezone(self.system.site.zone).date()
        return age_in_years(self.system.installed_on, today)

    @property
    def last_event(self) -> str:
        kind = KINDS.get(self.system.last_event_kind or "")
        return str(kind.label) if kind else ""

    @property
    def trend(self) -> float | None:
        score, before = self.system.score, self.system.score_before
        return None if score is None or before is None else score - before


@dataclass(frozen=True)
class Summary:
    systems: int
    sites: int
    by_state: dict[str, int]
    with_follow_ups: int
    late: int
    not_holding: Sequence[Verdict] = ()
    checked_from: datetime | None = None
    checked: int = 0

    @property
    def not_derived(self) -> int:
        return self.systems - sum(self.by_state.values())

    @property
    def states(self) -> list[tuple[str, int]]:
        """Worst first, as the table offers them to filter by."""
        return [(state.value, self.by_state[state]) for state in WORST_FIRST]


def summary(user: User, now: datetime) -> Summary:
    systems = System.objects.visible_to(user)
    counts = (
        systems.with_atmosphere(now)
        .order_by()
        .values("atmosphere_state")
        .annotate(count=Count("pk"))
    )
    by_state = {row["atmosphere_state"]: row["count"] for row in counts}
    followed = (
        Task.objects.visible_to(user)
        .open()
        .order_by()
        .aggregate(
            systems=Count("system", distinct=True), late=Count("pk", filter=Q(due_at__lt=now))
        )
    )
    return Summary(
        systems=sum(by_state.values()),
        sites=systems.order_by().values("site").distinct().count(),
        by_state={state: by_state.get(state.value, 0) for state in STATES},
        with_follow_ups=followed["systems"],
        late=followed["late"],
        **_verdicts(user),
    )


def _verdicts(user: User) -> dict[str, Any]:
    """What the nightly check said of the systems that the person may read."""
    verdicts = Verdict.objects.visible_to(user)
    facts = verdicts.aggregate(checked=Count("pk"), checked_from=Min("checked_at"))
    against = verdicts.against().select_related("system__site")
    return facts | {"not_holding": list(against.order_by("system__tag"))}


@dataclass(frozen=True)
class SiteRow:
    """One site: how many of its systems are in each state, and what is open there."""

    site: Site
    contractor: str
    by_state: Mapping[str, int]
    follow_ups: int
    next_due_at: datetime | None

    @property
    def systems(self) -> int:
        return sum(self.by_state.values())

    @property
    def states(self) -> list[tuple[str, int]]:
        return [(state.value, self.by_state.get(state.value, 0)) for state in WORST_FIRST]


def site_rows(user: User, now: datetime) -> list[SiteRow]:
    sites = Site.objects.visible_to(user)
    by_state = _states_by_site(user, now)
    tasks = {row["system__site"]: row for row in _tasks_by_site(user)}
    contractors = _contractors(sites, now)
    none = {"count": 0, "due": None}
    return [
        SiteRow(
            site=site,
            contractor=contractors.get(site.pk, ""),
            by_state=by_state.get(site.pk, {}),
            follow_ups=tasks.get(site.pk, none)["count"],
            next_due_at=tasks.get(site.pk, none)["due"],
        )
        for site in sites
    ]


def _states_by_site(user: User, now: datetime) -> dict[int, dict[str, int]]:
    systems = System.objects.visible_to(user).with_atmosphere(now).order_by()
    found: dict[int, dict[str, int]] = {}
    for row in systems.values("site", "atmosphere_state").annotate(count=Count("pk")):
        found.setdefault(row["site"], {})[row["atmosphere_state"]] = row["count"]
    return found


def _tasks_by_site(user: User):
    tasks = Task.objects.visible_to(user).open().order_by().values("system__site")
    return tasks.annotate(count=Count("pk"), due=Min("due_at"))


def _contractors(sites, now: datetime) -> dict[int, str]:
    contracts = ServiceContract.objects.in_force_at(now).filter(site__in=sites)
    return dict(contracts.order_by("starts_on").values_list("site", "contractor__name"))
