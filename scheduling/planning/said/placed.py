"""What a person may see on the sketch: depots of their organisations and sites with degrees."""

from registry.models import Building, Site, User
from scheduling.models import Depot, Place
from scheduling.planning.said.sketch import Known

MOST_KNOWN = 300  # a sketch of more shows nothing


def known_places(user: User, own: Place | None, here: Building | Site) -> list[Known]:
    """Of sites the person may record at, by name; the one in question is marked as `here`."""
    sites = Site.objects.recordable_by(user)
    rows = Place.objects.filter(site__in=sites, building__isnull=True, latitude__isnull=False)
    if own:
        rows = rows.exclude(pk=own.pk)
    depots = Depot.objects.filter(
        organisation__in=user.organisations.all(), latitude__isnull=False
    ).order_by("name", "pk")
    found = [_known(depot.name, depot, "depot") for depot in depots]
    rows = rows.select_related("site").order_by("site__name", "pk")[:MOST_KNOWN]
    found += [_known(str(row.site), row, "site") for row in rows]
    if own and own.latitude is not None:
        found.append(_known(str(here), own, "here"))
    return found


def _known(name: str, row: Depot | Place, kind: str) -> Known:
    assert row.latitude is not None and row.longitude is not None  # filtered
    return Known(name, row.latitude, row.longitude, kind)
