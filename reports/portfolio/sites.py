"""By site: systems by state, late work, who serves it, and a budget over five years."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from django.db.models import Count, Q

from registry.models import Assessment, ServiceContract, Site, System, User
from registry.money import Prices, expected_by_year, prices_of
from reports.portfolio.counts import WORST_FIRST
from scheduling.models import Occurrence, Task

PER_PAGE = 50
YEARS = 5


@dataclass
class SiteRow:
    """One site. `by_year` is the expected cost of leaks, if all is left as it is."""

    site: Site
    contractor: str
    prices: Prices
    by_state: dict[str, int] = field(default_factory=dict)
    open_work: int = 0
    late: int = 0
    to_order: int = 0
    by_year: list[float] = field(default_factory=lambda: [0.0] * YEARS)

    @property
    def systems(self) -> int:
        return sum(self.by_state.values())

    @property
    def states(self) -> list[tuple[str, int]]:
        return [(state.value, self.by_state.get(state.value, 0)) for state in WORST_FIRST]

    @property
    def years_text(self) -> list[str]:
        return [self.prices.text(amount) for amount in self.by_year]

    @property
    def total_text(self) -> str:
        return self.prices.text(sum(self.by_year))

    @property
    def visits_text(self) -> str:
        return self.prices.text(self.to_order * self.prices.visit)


def site_rows(user: User, now: datetime, *, after: str = "") -> tuple[list[SiteRow], str]:
    """A page of sites by name, and the end of the address of the next one."""
    sites = Site.objects.visible_to(user).order_by("name", "pk")
    if after:
        key, _, name = after.partition(":")
        pk = int(key) if key.isdecimal() else 0
        sites = sites.filter(Q(name__gt=name) | Q(name=name, pk__gt=pk))
    page = list(sites[: PER_PAGE + 1])
    last = page[PER_PAGE - 1] if len(page) > PER_PAGE else None
    page = page[:PER_PAGE]
    prices, contractors = prices_of(site.owner_id for site in page), _contractors(page, now)
    rows = {
        site.pk: SiteRow(site, contractors.get(site.pk, ""), prices[site.owner_id]) for site in page
    }
    _add_states(rows, now)
    _add_work(rows, now)
    _add_costs(rows)
    return list(rows.values()), f"{last.pk}:{last.name}" if last else ""


def _add_states(rows: dict[int, SiteRow], now: datetime) -> None:
    systems = System.objects.filter(site__in=rows).with_atmosphere(now).order_by()
    counted = systems.values_list("site", "atmosphere_state").annotate(count=Count("pk"))
    for site, state, count in counted:
        rows[site].by_state[state or ""] = count
    ordered = Task.objects.open().inerting_runs().filter(system__site__in=rows).order_by()
    by_site = dict(ordered.values_list("system__site").annotate(Count("pk")))
    for pk, row in rows.items():
        row.to_order = max(row.by_state.get("aerated", 0) - by_site.get(pk, 0), 0)


def _add_work(rows: dict[int, SiteRow], now: datetime) -> None:
    for model, due in ((Task, "due_at"), (Occurrence, "late_at")):
        work = model.objects.filter(status="open", system__site__in=rows).order_by()
        late = Count("pk", filter=Q(**{f"{due}__lte": now}))
        counted = work.values_list("system__site").annotate(count=Count("pk"), late=late)
        for site, count, late_count in counted:
            rows[site].open_work += count
            rows[site].late += late_count


def _add_costs(rows: dict[int, SiteRow]) -> None:
    latest = Assessment.objects.latest().filter(
        system__site__in=rows, system__taken_back_at=None, leak_in_5_yr__isnull=False
    )
    chances = defaultdict(list)
    for site, one, five in latest.values_list("system__site", "leak_in_1_yr", "leak_in_5_yr"):
        chances[site].append((one, five))
    for site, pairs in chances.items():
        one, five = np.array(pairs).T
        by_year = expected_by_year(one, five, rows[site].prices.leak).sum(axis=1)
        rows[site].by_year = [float(amount) for amount in by_year]


def _contractors(sites: list[Site], now: datetime) -> dict[int, str]:
    contracts = ServiceContract.objects.in_force_at(now).filter(site__in=sites)
    return dict(contracts.order_by("starts_on").values_list("site", "contractor__name"))
