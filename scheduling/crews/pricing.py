"""The best routes of one crew and day at given prices: what both searches read and give back.

Prices are whole multiples of 1/1024 of a unit of value, so that every sum is exact and a bound made
of them is proven rather than nearly so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from operator import mul

from scheduling.crews.instance import Span
from scheduling.crews.problem import Problem, Shift

SCALE = 1024
NEVER = -1


@dataclass(frozen=True)
class Prices:
    """What the plan would pay for one unit more of what routes share, in 1/1024."""

    orders: Sequence[int]
    impaired: Mapping[tuple[str, int], int]  # by building and day
    stock: Sequence[Sequence[int]]  # by depot and day, for the limit until that day
    shifts: Sequence[int]

    @cached_property
    def cylinder(self) -> list[list[int]]:
        """What one cylinder used costs by depot and day: it counts in every limit from then on."""
        return [[sum(row[day:]) for day in range(len(row))] for row in self.stock]

    def paid(self, problem: Problem) -> int:
        """What all that routes share is worth at these prices; crews' days apart."""
        limits = zip(self.stock, problem.stock, strict=True)
        stock = sum(sum(map(mul, row, there)) for row, there in limits)
        return sum(self.orders) + sum(self.impaired.values()) + stock

    def halfway(self, other: "Prices") -> "Prices":
        """Between these and others: prices that jump less find better routes."""
        return Prices(
            _halfway(self.orders, other.orders),
            {key: (price + other.impaired[key]) // 2 for key, price in self.impaired.items()},
            [_halfway(one, two) for one, two in zip(self.stock, other.stock, strict=True)],
            _halfway(self.shifts, other.shifts),
        )

    def net(self, problem: Problem, shift: Shift, order: int) -> int:
        """What is left of the worth of an order when the prices are paid."""
        stop, row = shift.stops[order], problem.orders[order]
        net = stop.worth * SCALE - self.orders[order]
        net -= stop.cylinders * self.cylinder[shift.depot][shift.day]
        if row.impairs:
            net -= self.impaired.get((row.building, shift.day), 0)
        return net


def _halfway(one: Sequence[int], two: Sequence[int]) -> list[int]:
    return [(a + b) // 2 for a, b in zip(one, two, strict=True)]


@dataclass(frozen=True)
class Menu:
    """One crew and day with the orders worth a visit; the first `fixed` of them are compulsory."""

    shift: Shift
    orders: tuple[int, ...]
    net: tuple[int, ...]
    minutes: tuple[int, ...]
    cylinders: tuple[int, ...]
    windows: tuple[tuple[Span, ...], ...]
    last: tuple[int, ...]  # the latest arrival that lets the work be done and the crew get home
    drive: tuple[tuple[int, ...], ...]
    out: tuple[int, ...]  # from and to the depot: driving is the same both ways
    forbids: tuple[int, ...]  # as bits: itself, and rivals that would impair the same building
    near: tuple[int, ...]  # as bits: visited orders that a label at this order remembers
    must: int  # as bits: fixed bookings
    drive_cost: int  # a minute, in 1/1024
    overtime_cost: int
    pause: tuple[int, int, int]  # minutes, opens, closes
    restock_minutes: int
    more: tuple[int, ...]  # by minutes left: the most that further orders and the way home can add
    threshold: int  # routes worth no more than this are not looked for


@dataclass(frozen=True)
class Found:
    """The best routes of a menu: what each is worth at its prices, and its orders."""

    best: int | None  # None where no route above the threshold was found
    routes: tuple[tuple[int, tuple[int, ...]], ...]
    labels: int
    is_complete: bool


@dataclass
class Memory:
    """Which visited orders labels remember at each order: all of them, or the nearest.

    A label that forgets may visit an order twice. What is found then is worth at least as much as
    the best true route, so bounds stay valid. `also` grows where forgetting was seen to matter.
    """

    nearest: int | None = None
    also: dict[int, set[int]] = field(default_factory=dict)

    def of(self, order: int, by_distance: Sequence[int]) -> set[int]:
        kept = set(by_distance if self.nearest is None else by_distance[: self.nearest])
        return kept | self.also.get(order, set())


def menu(
    problem: Problem,
    shift: Shift,
    prices: Prices,
    memory: Memory,
    *,
    threshold: int,
    least: int = 0,
    most: int | None = None,
) -> Menu:
    """The orders whose worth less their prices is more than `least`, and the fixed bookings.

    An order that does not pay can be left out exactly: without it no route is longer. `most` keeps
    those that pay best, for a search that proves nothing.
    """
    free = [
        order
        for order in shift.stops
        if order not in shift.fixed
        and prices.net(problem, shift, order) > least
        and not problem.rivals[order] & problem.fixed_on[shift.day]
        and _last(problem, shift, order) != NEVER
    ]
    if most is not None and len(free) > most:
        best = sorted(free, key=lambda order: (-prices.net(problem, shift, order), order))
        free = sorted(best[:most])
    kept = [*shift.fixed, *free]
    places = [shift.stops[order].place for order in kept]
    rows = problem.minutes
    drive = tuple(tuple(rows[a][b] for b in places) for a in places)
    bit = {order: 1 << number for number, order in enumerate(kept)}
    must = sum(bit.get(order, 0) for order in shift.fixed)
    pause = problem.pause
    net = tuple(prices.net(problem, shift, order) for order in kept)
    minutes = tuple(shift.stops[order].minutes for order in kept)
    out = tuple(rows[shift.home][place] for place in places)
    drive_cost = problem.minute_cost * SCALE
    span = shift.latest - shift.begin
    return Menu(
        shift=shift,
        orders=tuple(kept),
        net=net,
        minutes=minutes,
        cylinders=tuple(shift.stops[order].cylinders for order in kept),
        windows=tuple(shift.stops[order].windows for order in kept),
        last=tuple(_last(problem, shift, order) for order in kept),
        drive=drive,
        out=out,
        forbids=tuple(_forbids(problem, order, bit) for order in kept),
        near=tuple(must | _near(memory, kept, number, row) for number, row in enumerate(drive)),
        must=must,
        drive_cost=drive_cost,
        overtime_cost=shift.overtime_cost * SCALE,
        pause=(pause.minutes, pause.opens, pause.closes),
        restock_minutes=problem.restock_minutes,
        more=_most(net, minutes, drive, out, drive_cost, span),
        threshold=threshold,
    )


def _most(
    net: Sequence[int],
    minutes: Sequence[int],
    drive: Sequence[Sequence[int]],
    out: Sequence[int],
    drive_cost: int,
    span: int,
) -> tuple[int, ...]:
    """For each number of minutes left, more than any orders in them and the way home can add.

    Orders are cut up and packed by worth a minute, each with the shortest drive that leads to it.
    """
    pieces = []
    for order, worth in enumerate(net):
        others = (row[order] for number, row in enumerate(drive) if number != order)
        nearest = min(others, default=out[order])
        nearest = min(nearest, out[order])
        if worth > nearest * drive_cost:
            pieces.append((worth - nearest * drive_cost, minutes[order] + nearest))
    pieces.sort(key=lambda piece: (-piece[0] / piece[1], piece))
    home = min(out, default=0)
    packed, total = [0], 0
    for worth, length in pieces:
        packed += [total + -(-worth * minute // length) for minute in range(1, length + 1)]
        total += worth
        if len(packed) > span:
            break
    packed += [total] * (span + 1 - len(packed))
    way_home = home * drive_cost
    return tuple([-way_home] * home + [worth - way_home for worth in packed])[: span + 1]


def _last(problem: Problem, shift: Shift, order: int) -> int:
    """The latest arrival; NEVER where the crew cannot even come straight from the depot."""
    stop = shift.stops[order]
    out = problem.minutes[shift.home][stop.place]
    for opens, closes in reversed(stop.windows):
        latest = min(closes, shift.latest - out) - stop.minutes
        if latest >= opens:
            return latest if shift.begin + out <= latest else NEVER
    return NEVER


def _forbids(problem: Problem, order: int, bit: Mapping[int, int]) -> int:
    return bit[order] | sum(bit.get(rival, 0) for rival in problem.rivals[order])


def _near(memory: Memory, orders: Sequence[int], number: int, row: Sequence[int]) -> int:
    by_distance = sorted(range(len(orders)), key=lambda other: (row[other], other))
    kept = memory.of(orders[number], [orders[other] for other in by_distance])
    return sum(1 << other for other, order in enumerate(orders) if order in kept)


@lru_cache(maxsize=4096)
def starts(windows: tuple[Span, ...], minutes: int) -> tuple[int, ...]:
    """For each minute of arrival until the last that will do: when the work begins."""
    until = max((closes for _, closes in windows), default=0) - minutes
    found = []
    for arrives in range(until + 1):
        fits = (max(a, arrives) for a, b in windows if max(a, arrives) + minutes <= b)
        found.append(min(fits, default=NEVER))
    return tuple(found)
