"""What is known of an organisation's crews, depots and sites, and what is assumed in its place."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from registry.models import Organisation, System
from scheduling.crews import Order
from scheduling.crews.instance import Span
from scheduling.models import Crew, Depot, Place, PlanningPolicy, Task, WorkTime
from scheduling.planning.gas import PARTS, gas_for
from scheduling.planning.said.assumed import (
    ACCESS_HOURS,
    CREW_HOURS,
    KINDS,
    OVERTIME_MINUTES,
    USUAL,
    VAN_PLACES,
    KindTime,
)
from scheduling.planning.said.hours import (
    MIDNIGHT,
    parse_days_away,
    parse_deliveries,
    parse_hours,
    parse_skills,
)

EARTH_RADIUS_M = 6_371_000  # the mean; a small part of the sphere is taken as a plane
NOWHERE = "depot assumed"


@dataclass(frozen=True)
class PlacedDepot:
    id: str
    x: int
    y: int
    deliveries: Mapping[date, int]
    row: Depot | None = None

    @property
    def full_cylinders(self) -> int | None:
        return self.row.full_cylinders if self.row else None


@dataclass(frozen=True)
class PlacedSite:
    """Where an order is worked at: a building, or a site whose buildings nobody told apart."""

    id: str
    x: int
    y: int
    approach: int
    site: str
    hours: Mapping[int, tuple[Span, ...]]
    zone: ZoneInfo
    is_placed: bool
    has_hours: bool


@dataclass
class Facts:
    organisation: Organisation
    policy: PlanningPolicy
    crews: Sequence[Crew]
    work_times: Mapping[str, WorkTime]
    depot_rows: Sequence[Depot]
    rows: Mapping[tuple[int, int | None], Place]  # by site and building
    tasks: Sequence[Task] = field(default_factory=list)

    @classmethod
    def of(
        cls, organisation: Organisation, tasks: Sequence[Task], crews: Sequence[Crew] | None = None
    ) -> "Facts":
        sites = {task.system.site_id for task in tasks}
        places = Place.objects.filter(site__in=sites)
        return cls(
            organisation=organisation,
            policy=policy_of(organisation),
            crews=crews if crews is not None else crews_of(organisation),
            work_times={row.kind: row for row in organisation.work_times.all()},
            depot_rows=list(organisation.depots.all()),
            rows={(row.site_id, row.building_id): row for row in places},
            tasks=tasks,
        )

    # -- places -----------------------------------------------------------------------------

    @cached_property
    def _origin(self) -> tuple[float, float] | None:
        """The middle of all that is placed, from which metres are counted."""
        rows: list[Depot | Place] = [*self.depot_rows, *self.rows.values()]
        known = [
            (row.latitude, row.longitude)
            for row in rows
            if row.latitude is not None and row.longitude is not None
        ]
        if not known:
            return None
        return sum(lat for lat, _ in known) / len(known), sum(lon for _, lon in known) / len(known)

    def _metres(self, latitude: float | None, longitude: float | None) -> tuple[int, int] | None:
        """On a plane that touches the earth at the origin: x east, y north."""
        if self._origin is None or latitude is None or longitude is None:
            return None
        lat, lon = self._origin
        x = math.radians(longitude - lon) * math.cos(math.radians(lat)) * EARTH_RADIUS_M
        return round(x), round(math.radians(latitude - lat) * EARTH_RADIUS_M)

    @cached_property
    def depots(self) -> list[PlacedDepot]:
        """Those in the register; where a crew has none, one in the middle of what is placed."""
        found = [
            PlacedDepot(
                f"depot {row.pk}",
                *(self._metres(row.latitude, row.longitude) or (0, 0)),
                parse_deliveries(row.deliveries),
                row,
            )
            for row in self.depot_rows
        ]
        if not found or any(self.depot_of(crew) is None for crew in self.crews):
            found.append(PlacedDepot(NOWHERE, 0, 0, {}))
        return found

    def depot_of(self, crew: Crew) -> int | None:
        if crew.depot_id:
            return crew.depot_id
        return self.depot_rows[0].pk if len(self.depot_rows) == 1 else None

    def depot_id(self, crew: Crew) -> str:
        found = self.depot_of(crew)
        return NOWHERE if found is None else f"depot {found}"

    def are_ways_known(self, crew: Crew) -> bool:
        """Do the crew's depot and all sites in question have degrees?"""
        key = self.depot_of(crew)
        depot = next((row for row in self.depot_rows if row.pk == key), None)
        is_home_known = depot is not None and depot.latitude is not None
        return is_home_known and all(self.place(task).is_placed for task in self.tasks)

    @cached_property
    def home(self) -> tuple[int, int]:
        """From where a site that nobody placed is taken to lie some minutes away."""
        return self.depots[0].x, self.depots[0].y

    def place_id(self, task: Task) -> str:
        return self.place(task).id

    def place(self, task: Task) -> PlacedSite:
        system = task.system
        key = (system.site_id, system.building_id)
        if key not in self._places:
            self._places[key] = self._placed(task)
        return self._places[key]

    @cached_property
    def _places(self) -> dict[tuple[int, int | None], PlacedSite]:
        return {}

    def _placed(self, task: Task) -> PlacedSite:
        system = task.system
        own = self.rows.get((system.site_id, system.building_id)) if system.building_id else None
        general = self.rows.get((system.site_id, None))
        at = next(
            (
                metres
                for row in (own, general)
                if row and (metres := self._metres(row.latitude, row.longitude))
            ),
            None,
        )
        said = next((row.hours for row in (own, general) if row and row.hours), "")
        x, y = at or self.home
        where = f"building {system.building_id}" if system.building_id else f"site {system.site_id}"
        return PlacedSite(
            id=where,
            x=x,
            y=y,
            approach=0 if at else self.policy.minutes_unplaced,
            site=f"site {system.site_id}" if at is None else "",
            hours=parse_hours(said) if said else ACCESS_HOURS,
            zone=task.zone,
            is_placed=at is not None,
            has_hours=bool(said),
        )

    def places_of(self, orders: Iterable[Order]) -> list[PlacedSite]:
        wanted = {order.building for order in orders}
        found = {place.id: place for task in self.tasks if (place := self.place(task))}
        return [found[key] for key in sorted(wanted)]

    def windows_on(
        self, place: PlacedSite, day: date, zone: ZoneInfo, *, into_the_next: bool = False
    ) -> tuple[Span, ...]:
        """When the place is open on that day, by the clock of the board.

        An hour that the clocks leave out or give twice on that day belongs to no window. With
        `into_the_next`, what is open at midnight goes on for as long as it is open after it.
        """
        limit = 2 * MIDNIGHT if into_the_next else MIDNIGHT
        found: list[Span] = []
        for after in (-1, 0, 1, 2):
            there = day + timedelta(days=after)
            for opens, closes in place.hours.get(there.weekday(), ()):
                if place.zone.key == zone.key:
                    begin, end = after * MIDNIGHT + opens, after * MIDNIGHT + closes
                else:
                    begin = _minute(there, opens, place.zone, day, zone)
                    end = _minute(there, closes, place.zone, day, zone)
                if end > 0 and begin < limit:
                    found.append((max(0, begin), min(limit, end)))
        wholes = [whole for whole in _joined(found) if whole[0] < MIDNIGHT]
        return tuple(span for whole in wholes for span in without_change(whole, day, zone))

    # -- crews ------------------------------------------------------------------------------

    def is_away(self, crew: Crew, day: date) -> bool:
        return any(first <= day <= last for first, last in parse_days_away(crew.absences))

    def skills(self, crew: Crew) -> frozenset[str]:
        return parse_skills(crew.skills)

    def overtime_of(self, crew: Crew) -> int:
        return OVERTIME_MINUTES if crew.overtime_minutes is None else crew.overtime_minutes

    def van_places(self, crew: Crew) -> int:
        return VAN_PLACES if crew.cylinder_places is None else crew.cylinder_places

    # -- work -------------------------------------------------------------------------------

    def kind_of(self, task: Task) -> KindTime:
        usual = KINDS.get(task.kind, USUAL)
        if row := self.work_times.get(task.kind):
            return replace(
                usual, minutes=row.minutes, minutes_per_m3=row.minutes_per_m3, impairs=row.impairs
            )
        return usual

    def minutes_of(self, task: Task) -> int:
        """Whole five minutes, by the kind of work and the volume of the system."""
        kind = self.kind_of(task)
        volume = self._volumes.get(task.system_id, 0.0)
        return 5 * math.ceil((kind.minutes + kind.minutes_per_m3 * volume) / 5 - 1e-9)

    @cached_property
    def _volumes(self) -> dict[int, float]:
        """Internal volumes of the systems whose work depends on them."""
        keys = {task.system_id for task in self.tasks if self.kind_of(task).minutes_per_m3}
        rows = System.objects.filter(pk__in=keys).with_volume()
        return dict(rows.values_list("pk", "volume_m3"))

    def skills_of(self, task: Task) -> frozenset[str]:
        row = self.work_times.get(task.kind)
        return parse_skills(row.skills) if row else frozenset()

    # -- cylinders --------------------------------------------------------------------------

    def stock_on(self, depot: PlacedDepot, day: date, zone: ZoneInfo) -> int | None:
        """Tenths of cylinders there that morning: as counted, what came since and what was booked.

        None where nobody counted them.
        """
        row = depot.row
        if row is None or row.full_cylinders is None:
            return None
        counted = row.counted_on or day
        came = sum(n for on, n in depot.deliveries.items() if counted < on < day)
        if counted >= day:
            return row.full_cylinders * PARTS
        crews = [crew.pk for crew in self.crews if self.depot_of(crew) == row.pk]
        drawn = Task.objects.agreed().filter(
            crew__in=crews,
            starts_at__gte=datetime.combine(counted, time(), tzinfo=zone).astimezone(UTC),
            starts_at__lt=datetime.combine(day, time(), tzinfo=zone).astimezone(UTC),
        )
        used = gas_for(
            drawn.select_related("system"),
            datetime.combine(day, time(), tzinfo=UTC),
            cylinder=self.policy.cylinder,
        )
        return (row.full_cylinders + came) * PARTS - sum(gas.parts for gas in used.values())


def hours_of(crew: Crew) -> Mapping[int, tuple[Span, ...]]:
    return parse_hours(crew.hours) if crew.hours else CREW_HOURS


def policy_of(organisation: Organisation) -> PlanningPolicy:
    """The organisation's, or an unsaved one with the assumed values."""
    found = PlanningPolicy.objects.filter(organisation=organisation).first()
    return found or PlanningPolicy(organisation=organisation)


def placed(systems: Iterable[System]) -> dict[int, Place]:
    """By key of the system the row that says where it lies: of its building, or of its site."""
    systems = list(systems)
    rows = Place.objects.filter(
        site__in={system.site_id for system in systems}, latitude__isnull=False
    )
    known = {(row.site_id, row.building_id): row for row in rows}
    found = {
        system.pk: known.get((system.site_id, system.building_id))
        or known.get((system.site_id, None))
        for system in systems
    }
    return {pk: row for pk, row in found.items() if row}


def crews_of(organisation: Organisation) -> list[Crew]:
    """Those that go out and have people: a crew of nobody does nothing."""
    rows = organisation.crews.filter(is_active=True, people__isnull=False).distinct()
    return list(rows.select_related("depot").prefetch_related("people").order_by("name", "pk"))


def _minute(there: date, minute: int, zone: ZoneInfo, day: date, board: ZoneInfo) -> int:
    whole, rest = divmod(minute, MIDNIGHT)
    at = datetime.combine(
        there + timedelta(days=whole), time(rest // 60, rest % 60), tzinfo=zone
    ).astimezone(board)
    return (at.date() - day).days * MIDNIGHT + at.hour * 60 + at.minute


def _joined(spans: Iterable[Span]) -> list[Span]:
    joined: list[Span] = []
    for begin, end in sorted(spans):
        if joined and begin <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], end)
        else:
            joined.append((begin, end))
    return joined


def change_on(day: date, zone: ZoneInfo) -> Span | None:
    """The minutes after midnight that clocks there leave out, or show twice, on this day."""
    for hour in range(24):
        before = datetime.combine(day, time(hour), tzinfo=zone)
        next_day, next_hour = divmod(hour + 1, 24)
        after = datetime.combine(day + timedelta(days=next_day), time(next_hour), tzinfo=zone)
        moved = (after.utcoffset() or timedelta()) - (before.utcoffset() or timedelta())
        if moved:
            length = abs(int(moved.total_seconds() // 60))
            if moved > timedelta():
                return hour * 60, hour * 60 + length
            return hour * 60 + 60 - length, hour * 60 + 60
    return None


def without_change(span: Span, day: date, zone: ZoneInfo) -> list[Span]:
    """The parts of the span before and after the clocks change."""
    change = change_on(day, zone)
    if change is None or change[1] <= span[0] or change[0] >= span[1]:
        return [span]
    parts = [(span[0], change[0]), (change[1], span[1])]
    return [part for part in parts if part[0] < part[1]]
