"""What a plan is made of: days, crews, depots, buildings and orders, as plain data.

Times are whole minutes after midnight at the site, amounts whole thousandths of a score point,
places metres on a plane. A day is an index into `Instance.days`; its offset counts calendar days.
"""

from collections.abc import Mapping
from dataclasses import dataclass

Span = tuple[int, int]

INSTANCE_FORMAT = "crew-plan-instance/1"


@dataclass(frozen=True, slots=True)
class Day:
    date: str
    offset: int
    weekday: int  # 0 is Monday


@dataclass(frozen=True, slots=True)
class Travel:
    metres_per_minute: int
    detour_percent: int
    cost_per_minute: int


@dataclass(frozen=True, slots=True)
class Pause:
    """The break of a crew: it begins within `opens` to `closes`."""

    minutes: int
    opens: int
    closes: int


@dataclass(frozen=True, slots=True)
class Depot:
    id: str
    x: int
    y: int
    stock: int
    deliveries: Mapping[int, int]  # full cylinders by day, there from the morning


@dataclass(frozen=True, slots=True)
class Building:
    id: str
    x: int
    y: int
    windows: Mapping[int, tuple[Span, ...]]  # by weekday, in the order of time
    approach: int = 0  # minutes more to and from every other place: where it lies is not known
    site: str = ""  # buildings of one site, named alike, have no such minutes between them


@dataclass(frozen=True, slots=True)
class Crew:
    id: str
    depot: str
    skills: frozenset[str]
    hours: Mapping[int, Span]  # by weekday
    absent: frozenset[int]
    cylinders: int  # places on the van
    overtime_minutes: int
    overtime_cost: int  # a minute


@dataclass(frozen=True, slots=True)
class Fixed:
    """A booking that never moves."""

    crew: str
    day: int
    start: int


@dataclass(frozen=True, slots=True)
class Order:
    id: str
    building: str
    kind: str
    minutes: int
    skills: frozenset[str]
    cylinders: int
    impairs: bool
    delay_rate: int
    delay_growth: int
    earliest: int
    latest: int | None
    late_cost: int
    told: int | None
    move_cost: int
    fixed: Fixed | None
    left_out_cost: int = 0  # once, on top: what is promised must not be dropped for a gain


@dataclass(frozen=True, slots=True)
class Instance:
    name: str
    days: tuple[Day, ...]
    left_out_offset: int
    travel: Travel
    pause: Pause
    restock_minutes: int
    depots: tuple[Depot, ...]
    buildings: tuple[Building, ...]
    crews: tuple[Crew, ...]
    orders: tuple[Order, ...]


def loss(order: Order, offset: int, day: int | None) -> int:
    """What the order costs when done `offset` days after the first; day None: left out.

    delay_rate t + delay_growth t^2 + late_cost max(0, t - latest) + move_cost [told another day]
    + left_out_cost [left out]
    """
    total = order.delay_rate * offset + order.delay_growth * offset * offset
    if order.latest is not None:
        total += order.late_cost * max(0, offset - order.latest)
    if order.told is not None and order.told != day:
        total += order.move_cost
    return total if day is not None else total + order.left_out_cost


def worth(instance: Instance, order: Order, day: int) -> int:
    """What doing the order on this day saves against leaving it out."""
    out = loss(order, instance.left_out_offset, None)
    return out - loss(order, instance.days[day].offset, day)
