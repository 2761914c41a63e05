"""The instance by numbers: what each crew may do on each day, distances, shared limits."""

from dataclasses import dataclass
from functools import cached_property
from math import isqrt

from scheduling.crews.instance import Building, Crew, Depot, Instance, Order, Span, worth


@dataclass(frozen=True, slots=True)
class Stop:
    """An order as one crew meets it on one day."""

    order: int
    place: int
    minutes: int
    cylinders: int
    windows: tuple[Span, ...]
    worth: int


@dataclass(frozen=True, slots=True)
class Shift:
    """A crew on a day that it works."""

    number: int
    crew: int
    day: int
    depot: int
    home: int  # place of the depot
    begin: int
    end: int
    latest: int  # back by then, overtime included
    overtime_cost: int
    van: int
    stops: dict[int, Stop]  # by order
    fixed: tuple[int, ...]  # orders, by their starts


def _approaches(one: Depot | Building, two: Depot | Building) -> int:
    if isinstance(one, Building) and isinstance(two, Building):
        if one.id == two.id or (one.site and one.site == two.site):
            return 0
        return one.approach + two.approach
    return sum(each.approach for each in (one, two) if isinstance(each, Building))


class Problem:
    """An instance with its orders, crews, depots and buildings as numbers in the file's order.

    Places are numbered depots first, then buildings.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.orders = instance.orders
        self.pause = instance.pause
        self.restock_minutes = instance.restock_minutes
        self.minute_cost = instance.travel.cost_per_minute
        self.buildings = {building.id: building for building in instance.buildings}
        self.places: list[Depot | Building] = [*instance.depots, *instance.buildings]
        self.place = {place.id: number for number, place in enumerate(self.places)}
        self.minutes = self._driving()
        self.order_number = {order.id: i for i, order in enumerate(self.orders)}
        self.shifts = self._shifts()
        self.shift_at = {(shift.crew, shift.day): shift for shift in self.shifts}

    def _driving(self) -> list[list[int]]:
        """Whole minutes between places; rounded up twice, so that no detour is ever quicker.

        The minutes of an approach are paid at either end, so that holds with them as well.
        """
        how = self.instance.travel
        rows = []
        for one in self.places:
            row = []
            for two in self.places:
                square = (one.x - two.x) ** 2 + (one.y - two.y) ** 2
                metres = isqrt(square - 1) + 1 if square else 0
                minutes = -(-metres * how.detour_percent // (100 * how.metres_per_minute))
                row.append(minutes + _approaches(one, two))
            rows.append(row)
        return rows

    def _shifts(self) -> tuple[Shift, ...]:
        depots = {depot.id: number for number, depot in enumerate(self.instance.depots)}
        found: list[Shift] = []
        for number, crew in enumerate(self.instance.crews):
            for day in range(len(self.instance.days)):
                if hours := self.hours(crew, day):
                    shift = Shift(
                        number=len(found),
                        crew=number,
                        day=day,
                        depot=depots[crew.depot],
                        home=self.place[crew.depot],
                        begin=hours[0],
                        end=hours[1],
                        latest=hours[1] + crew.overtime_minutes,
                        overtime_cost=crew.overtime_cost,
                        van=crew.cylinders,
                        stops=self._stops(crew, day),
                        fixed=self._fixed(crew, day),
                    )
                    found.append(shift)
        return tuple(found)

    def hours(self, crew: Crew, day: int) -> Span | None:
        """The crew's ordinary hours on this day; None when it is away."""
        if day in crew.absent:
            return None
        return crew.hours.get(self.instance.days[day].weekday)

    def windows(self, order: Order, day: int) -> tuple[Span, ...]:
        """Where the whole of the work must lie; a fixed booking has its own minutes alone."""
        building = self.buildings[order.building]
        found = building.windows.get(self.instance.days[day].weekday, ())
        if order.fixed is None:
            return tuple(span for span in found if span[1] - span[0] >= order.minutes)
        start, end = order.fixed.start, order.fixed.start + order.minutes
        inside = any(opens <= start and end <= closes for opens, closes in found)
        return ((start, end),) if inside else ()

    def _stops(self, crew: Crew, day: int) -> dict[int, Stop]:
        """What the crew may do on this day, its hours and the roads aside."""
        return {
            number: Stop(
                order=number,
                place=self.place[order.building],
                minutes=order.minutes,
                cylinders=order.cylinders,
                windows=self.windows(order, day),
                worth=worth(self.instance, order, day),
            )
            for number, order in enumerate(self.orders)
            if self.may(order, crew, day)
        }

    def may(self, order: Order, crew: Crew, day: int) -> bool:
        fixed = order.fixed
        return (
            (fixed is None or (fixed.crew, fixed.day) == (crew.id, day))
            and order.skills <= crew.skills
            and order.cylinders <= crew.cylinders
            and self.instance.days[day].offset >= order.earliest
            and bool(self.windows(order, day))
        )

    def _fixed(self, crew: Crew, day: int) -> tuple[int, ...]:
        found = [
            (order.fixed.start, number)
            for number, order in enumerate(self.orders)
            if order.fixed and (order.fixed.crew, order.fixed.day) == (crew.id, day)
        ]
        return tuple(number for _, number in sorted(found))

    @cached_property
    def rivals(self) -> tuple[frozenset[int], ...]:
        """For each order the others that would impair its building on the same day."""
        groups: dict[str, list[int]] = {}
        for number, order in enumerate(self.orders):
            if order.impairs:
                groups.setdefault(order.building, []).append(number)
        return tuple(
            frozenset(groups[order.building]) - {number} if order.impairs else frozenset()
            for number, order in enumerate(self.orders)
        )

    @cached_property
    def fixed_on(self) -> tuple[frozenset[int], ...]:
        """By day the orders with a fixed booking: whatever is theirs is nobody else's."""
        found: list[set[int]] = [set() for _ in self.instance.days]
        for number, order in enumerate(self.orders):
            if order.fixed:
                found[order.fixed.day].add(number)
        return tuple(frozenset(orders) for orders in found)

    @cached_property
    def stock(self) -> tuple[tuple[int, ...], ...]:
        """For each depot the full cylinders that have been there by each day."""
        rows = []
        for depot in self.instance.depots:
            there, row = depot.stock, []
            for day in range(len(self.instance.days)):
                there += depot.deliveries.get(day, 0)
                row.append(there)
            rows.append(tuple(row))
        return tuple(rows)
