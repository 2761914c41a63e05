"""Recurring work over all the systems that a person may see, counted by the database."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Min, Q, QuerySet
from django.utils.translation import gettext, ngettext

from registry.models import Site, System, User
from registry.words.spoken import day_words
from scheduling.recurrence import local_day

AHEAD = timedelta(days=90)
OPEN = Q(occurrences__status="open")


def systems_with_work(
    user: User, site: Site | None, when: str, *, now: datetime
) -> QuerySet[System]:
    """Adds `late_count`, `now_count`, `ahead_count` (its window opens within 90 days) and
    `first_late_at`, when the first open occurrence is late."""
    late = OPEN & Q(occurrences__late_at__lte=now)
    to_do = OPEN & Q(occurrences__opens_at__lte=now, occurrences__late_at__gt=now)
    ahead = OPEN & Q(occurrences__opens_at__gt=now, occurrences__opens_at__lte=now + AHEAD)
    systems = System.objects.visible_to(user).annotate(
        late_count=Count("occurrences", filter=late),
        now_count=Count("occurrences", filter=to_do),
        ahead_count=Count("occurrences", filter=ahead),
        first_late_at=Min("occurrences__late_at", filter=OPEN),
    )
    if site:
        systems = systems.filter(site=site)
    shown = {
        "late": Q(late_count__gt=0),
        "ahead": Q(late_count__gt=0) | Q(now_count__gt=0) | Q(ahead_count__gt=0),
        "all": Q(first_late_at__isnull=False),
    }.get(when, Q(late_count__gt=0) | Q(now_count__gt=0))
    rows = systems.filter(shown).select_related("site", "building")
    return rows.order_by("first_late_at", "pk")


@dataclass(frozen=True)
class SystemRow:
    system: System
    now: datetime
    out_since: datetime | None = None  # its protection, as long as it is out of service

    @property
    def first(self) -> str:
        """When the first is late, or for how long it has been."""
        at = self.system.first_late_at  # type: ignore[attr-defined]
        zone = self.system.site.zone
        last_day = local_day(at - timedelta(microseconds=1), zone)
        days = (local_day(self.now, zone) - last_day).days
        if days > 0:
            return ngettext("{days} day late", "{days} days late", days).format(days=days)
        return gettext("by {day}").format(day=day_words(last_day))
