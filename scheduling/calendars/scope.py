"""What a feed holds beside follow-ups, as its owner may see it at this moment."""

from datetime import datetime, timedelta

from registry.models import ServiceContract, System
from registry.models.querysets import SystemQuerySet
from registry.translation import in_english
from scheduling.calendars.ics import CalendarEntry
from scheduling.calendars.impairments import impairment_entries
from scheduling.calendars.recurring import recurring_entries
from scheduling.models import FeedToken

PATHS = {"site": "site", "building": "building", "system": "pk"}


@in_english()
def other_entries(token: FeedToken, now: datetime) -> list[CalendarEntry]:
    if not (token.with_recurring or token.with_impairments):
        return []
    rows = systems_of(token, now).with_protection().select_related("site", "building")
    systems = list(rows)
    entries: list[CalendarEntry] = []
    if token.with_recurring:
        entries += recurring_entries(systems, now, timedelta(days=token.horizon_days))
    if token.with_impairments:
        entries += impairment_entries(systems, now)
    return entries


def systems_of(token: FeedToken, now: datetime) -> SystemQuerySet:
    """No crew is given recurring work; a contractor has what lies at the sites it serves."""
    systems = System.objects.visible_to(token.user)
    if token.crew_id:
        return systems.none()
    if token.contractor_id:
        serving = ServiceContract.objects.in_force_at(now).filter(contractor=token.contractor)
        systems = systems.filter(site__in=serving.values("site"))
    named = {path: getattr(token, f"{name}_id") for name, path in PATHS.items()}
    return systems.filter(**{path: pk for path, pk in named.items() if pk}).order_by("pk")
