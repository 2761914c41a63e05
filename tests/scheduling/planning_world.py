"""Sites on a map, a depot with cylinders, and orders at systems of a given volume."""

from datetime import date, datetime, time
from math import cos, radians
from zoneinfo import ZoneInfo

from scheduling.models import Depot, Place, PlanningPolicy, Task, WorkTime
from tests.factories import NOW, make_site, make_system
from tests.scheduling.orders_world import make_order

LONDON = ZoneInfo("Europe/London")
HOME = (52.0, 1.0)
MONDAY = date(2026, 6, 8)  # the week after the tests' now
KM_NORTH = 1 / 111.195  # degrees of a mean radius of 6371 km
KM_EAST = KM_NORTH / cos(radians(HOME[0]))


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), tzinfo=LONDON)


def clock(when: datetime) -> str:
    return f"{when.astimezone(LONDON):%a %H:%M}"


def place(site, by, north_km=0.0, east_km=0.0, hours="", building=None) -> Place:
    degrees = (HOME[0] + north_km * KM_NORTH, HOME[1] + east_km * KM_EAST)
    return Place.objects.create(
        site=site, building=building, latitude=degrees[0], longitude=degrees[1], hours=hours,
        changed_by=by, changed_at=NOW,
    )  # fmt: skip


def make_depot(organisation, **facts) -> Depot:
    usual = {"name": "Yard", "latitude": HOME[0], "longitude": HOME[1]}
    return Depot.objects.create(organisation=organisation, **usual | facts)


def state_policy(organisation, **facts) -> PlanningPolicy:
    """A kilometre a minute as the crow flies, and no break: ways can be counted by hand."""
    usual = {"metres_per_minute": 1000, "detour_percent": 100, "break_minutes": 0}
    return PlanningPolicy.objects.create(organisation=organisation, **usual | facts)


def takes(organisation, minutes, kind="reinerting_order", **facts) -> WorkTime:
    return WorkTime.objects.create(
        organisation=organisation, kind=kind, minutes=minutes, **{"impairs": True, **facts}
    )


def order_at(world, tag, north_km=0.0, east_km=0.0, hours="", volume_m3=1.0, now=NOW) -> Task:
    """A re-inerting order at a site of its own."""
    site = make_site(world.owner_organisation, world.contractor, name=f"Site of {tag}")
    place(site, world.owner, north_km, east_km, hours)
    system = make_system(site, world.owner, tag=tag, volume_override_m3=volume_m3)
    return make_order(system, now=now)
