"""Counts over everything a person may see: the tally that filters, late work, cost.

Up to two thousand systems they are exact. Over more they are of the last minute, and the page says
of when: nobody can press the difference, and each of them reads every system.
"""

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta

from django.core.cache import cache
from django.db.models import Count, F, Min, OuterRef, Q, Subquery, Sum

from registry.models import Assessment, AtmosphereSpan, Record, System, User, Verdict
from registry.money import Prices, expected_a_year, prices_of
from reports.portfolio.rows import TELLING
from scheduling.lateness import LateCounts, late_counts
from scheduling.models import Task

EXACT_UP_TO = 2000
KEPT_FOR_S = 60
STATES = AtmosphereSpan.State
WORST_FIRST = (STATES.AERATED, STATES.IN_DOUBT, STATES.INERT)
BANDS = ("act", "plan", "watch", "leave")
LEAST_CHANGE = 0.05
CAUSES_TOLD = 4


@dataclass(frozen=True)
class Cost:
    """Sums of one currency; prices that no owner gave are assumed."""

    prices: Prices
    loss: float  # expected, a year, if all is left
    aerated: int  # that nobody has ordered inert yet
    visits: int
    is_assumed: bool
    has_own: bool

    @property
    def loss_text(self) -> str:
        return self.prices.text(self.loss)

    @property
    def visits_text(self) -> str:
        return self.prices.text(self.visits)


@dataclass(frozen=True)
class Counts:
    systems: int
    sites: int
    by_state: dict[str, int]
    by_band: dict[str, int]
    late: LateCounts
    costs: list[Cost] = field(default_factory=list)
    at: datetime | None = None  # of when, where it is not of now

    @property
    def not_derived(self) -> int:
        return self.systems - sum(self.by_state.values())

    @property
    def states(self) -> list[tuple[str, int]]:
        """Worst first, as the tally offers them to filter by."""
        return [(state.value, self.by_state[state]) for state in WORST_FIRST]

    @property
    def bands(self) -> list[tuple[str, int]]:
        return [(band, self.by_band.get(band, 0)) for band in BANDS]


def counts(user: User, now: datetime) -> Counts:
    """Exact, or for many systems as they were within the last minute."""
    key = f"portfolio-counts-{user.pk}"
    kept: Counts | None = cache.get(key)
    if kept is not None:
        return kept
    found = _counted(user, now)
    if found.systems > EXACT_UP_TO:
        found = replace(found, at=now)
        cache.set(key, found, KEPT_FOR_S)
    return found


def _counted(user: User, now: datetime) -> Counts:
    systems = System.objects.visible_to(user)
    rows = list(
        systems.with_atmosphere(now)
        .order_by()
        .values_list("site__owner", "atmosphere_state", "kind")
        .annotate(count=Count("pk"))
    )
    states: Counter[str] = Counter()
    for _, state, _, count in rows:
        states[state] += count
    latest = Assessment.objects.visible_to(user).latest().order_by()
    bands = latest.filter(score__isnull=False).values_list("band").annotate(Count("pk"))
    return Counts(
        systems=sum(states.values()),
        sites=systems.order_by().values("site").distinct().count(),
        by_state={state.value: states[state.value] for state in STATES},
        by_band=dict(bands),
        late=late_counts(user, now, soon=end_of_week(now) - now),
        costs=_costs(user, latest, rows),
    )


def end_of_week(now: datetime) -> datetime:
    """The end of Sunday in UTC: what is due “by Sunday” over sites of many zones."""
    sunday = now.date() + timedelta(days=6 - now.weekday())
    return datetime.combine(sunday + timedelta(days=1), time(0), now.tzinfo)


def _costs(user: User, latest, rows: list[tuple[int, str, str, int]]) -> list[Cost]:
    chances = dict(
        latest.filter(leak_in_5_yr__isnull=False)
        .values_list("system__site__owner")
        .annotate(Sum("leak_in_5_yr"))
    )
    ordered = Counter(
        Task.objects.visible_to(user)
        .open()
        .inerting_runs()
        .order_by()
        .values_list("system__site__owner", flat=True)
    )
    aerated: Counter[int] = Counter()
    for owner, state, kind, count in rows:
        if state == STATES.AERATED and kind != System.Kind.DELUGE:
            aerated[owner] += count
    owners = set(chances) | set(aerated)
    prices, by_currency = prices_of(owners), dict[str, list[int]]()
    for owner in sorted(owners):
        by_currency.setdefault(prices[owner].currency, []).append(owner)
    return [
        _cost([(prices[one], chances.get(one, 0.0), max(aerated[one] - ordered[one], 0))
               for one in those])
        for _, those in sorted(by_currency.items())
    ]  # fmt: skip


def _cost(owners: list[tuple[Prices, float, int]]) -> Cost:
    return Cost(
        prices=owners[0][0],
        loss=float(sum(expected_a_year(chance, prices.leak) for prices, chance, _ in owners)),
        aerated=sum(count for _, _, count in owners),
        visits=sum(count * prices.visit for prices, _, count in owners),
        is_assumed=any(prices.is_assumed for prices, _, _ in owners),
        has_own=any(prices.currency for prices, _, _ in owners),
    )


@dataclass(frozen=True)
class Changes:
    """Since the person's last visit: how many scores moved, and what was written down."""

    since: datetime
    worse: int
    better: int
    same: int
    causes: list[Record]
    closed: int

    @property
    def is_nothing(self) -> bool:
        return not (self.worse or self.better or self.causes or self.closed)


def changes(user: User, since: datetime | None, systems: int) -> Changes | None:
    """None on the first visit: nothing is compared with the first import."""
    if since is None:
        return None
    key = f"portfolio-changes-{user.pk}-{since.timestamp()}"
    numbers: dict[str, int] | None = cache.get(key)
    if numbers is None:
        numbers = _moved(user, since)
        if systems > EXACT_UP_TO:
            cache.set(key, numbers, KEPT_FOR_S)
    told = Record.objects.visible_to(user).current().filter(TELLING, recorded_at__gt=since)
    latest = told.select_related("system__site").order_by("-pk")
    same = systems - numbers["worse"] - numbers["better"]
    return Changes(since=since, same=same, causes=list(latest[:CAUSES_TOLD]), **numbers)


def _moved(user: User, since: datetime) -> dict[str, int]:
    before = Assessment.objects.filter(
        system=OuterRef("system"), assessed_at__lte=since, score__isnull=False
    ).order_by("-as_of", "-pk")
    moved = (
        Assessment.objects.visible_to(user)
        .latest()
        .filter(assessed_at__gt=since, score__isnull=False)
        .annotate(by=F("score") - Subquery(before.values("score")[:1]))
        .order_by()
        .aggregate(
            worse=Count("pk", filter=Q(by__gte=LEAST_CHANGE)),
            better=Count("pk", filter=Q(by__lte=-LEAST_CHANGE)),
        )
    )
    closed = Task.objects.visible_to(user).filter(status="done", closed_at__gt=since).count()
    return {**moved, "closed": closed}


@dataclass(frozen=True)
class Checked:
    """What the nightly check said of the systems that the person may read."""

    not_holding: list[Verdict]
    checked: int
    checked_from: datetime | None


def checked(user: User) -> Checked:
    verdicts = Verdict.objects.visible_to(user)
    facts = verdicts.aggregate(
        checked=Count("pk"), checked_from=Min("checked_at"),
        holding=Count("pk", filter=Q(differences=[])),
    )  # fmt: skip
    if facts.pop("holding") == facts["checked"]:
        return Checked([], **facts)
    against = verdicts.against().select_related("system__site")
    return Checked(list(against.order_by("system__tag")), **facts)
