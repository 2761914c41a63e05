"""From the text of an instance to `Instance`, naming the field that is wrong."""

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from scheduling.crews.instance import (
    INSTANCE_FORMAT,
    Building,
    Crew,
    Day,
    Depot,
    Fixed,
    Instance,
    Order,
    Pause,
    Span,
    Travel,
)

MIDNIGHT = 1440
Made = TypeVar("Made")


class InstanceError(ValueError):
    """Something in the instance cannot be planned; `field` says where."""

    def __init__(self, field: str, problem: str) -> None:
        super().__init__(f"{field}: {problem}")
        self.field, self.problem = field, problem


def read_instance(data: object) -> Instance:
    """The instance of parsed JSON; InstanceError names the first field that is wrong."""
    top = _Fields("instance", data)
    if top.any("format") != INSTANCE_FORMAT:
        raise InstanceError(
            "format", f"must be “{INSTANCE_FORMAT}”, not {_shown(top.any('format'))}."
        )
    days = top.rows("days", _day)
    if not days:
        raise InstanceError("days", "must name one day at least.")
    instance = Instance(
        name=top.text("name"),
        days=days,
        left_out_offset=top.whole("left_out_offset"),
        travel=_travel(top.part("travel")),
        pause=_pause(top.part("break")),
        restock_minutes=top.whole("restock_minutes", 0),
        depots=top.rows("depots", _depot),
        buildings=top.rows("buildings", _building),
        crews=top.rows("crews", _crew),
        orders=top.rows("orders", _order),
    )
    _check_days(instance)
    _check_names(instance)
    return instance


class _Fields:
    """One object of the file, which knows where it stands."""

    def __init__(self, where: str, data: object) -> None:
        if not isinstance(data, dict):
            raise InstanceError(where, f"must be an object with named fields, not {_shown(data)}.")
        self.where, self.data = where, data

    def at(self, name: str) -> str:
        return name if self.where == "instance" else f"{self.where}.{name}"

    def any(self, name: str) -> Any:
        if name not in self.data:
            raise InstanceError(self.at(name), "is missing.")
        return self.data[name]

    def text(self, name: str) -> str:
        value = self.any(name)
        if not isinstance(value, str) or not value:
            raise InstanceError(self.at(name), f"must be a text, not {_shown(value)}.")
        return value

    def whole(self, name: str, least: int | None = None, most: int | None = None) -> int:
        return _whole(self.at(name), self.any(name), least, most)

    def whole_or_none(self, name: str) -> int | None:
        return None if self.any(name) is None else self.whole(name)

    def flag(self, name: str) -> bool:
        value = self.any(name)
        if not isinstance(value, bool):
            raise InstanceError(self.at(name), f"must be true or false, not {_shown(value)}.")
        return value

    def part(self, name: str) -> "_Fields":
        return _Fields(self.at(name), self.any(name))

    def list(self, name: str) -> list[Any]:
        value = self.any(name)
        if not isinstance(value, list):
            raise InstanceError(self.at(name), f"must be a list, not {_shown(value)}.")
        return value

    def texts(self, name: str) -> frozenset[str]:
        for item in self.list(name):
            if not isinstance(item, str):
                raise InstanceError(self.at(name), f"must hold texts, not {_shown(item)}.")
        return frozenset(self.data[name])

    def rows(self, name: str, make: Callable[["_Fields"], Made]) -> tuple[Made, ...]:
        rows = self.list(name)
        return tuple(make(_Fields(f"{self.at(name)}[{i}]", row)) for i, row in enumerate(rows))

    def numbered(self, name: str, make: Callable[[str, Any], Made]) -> dict[int, Made]:
        """An object whose names are whole numbers: weekdays, or days."""
        made = {}
        for key, value in self.part(name).data.items():
            where = f"{self.at(name)}.{key}"
            if not key.isdecimal():
                raise InstanceError(where, "its name must be a whole number.")
            made[int(key)] = make(where, value)
        return made


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _whole(where: str, value: object, least: int | None, most: int | None) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise InstanceError(where, f"must be a whole number, not {_shown(value)}.")
    if least is not None and value < least:
        raise InstanceError(where, f"must be {least} or more, not {value}.")
    if most is not None and value > most:
        raise InstanceError(where, f"must be {most} or less, not {value}.")
    return value


def _span(where: str, value: object) -> Span:
    if not isinstance(value, list) or len(value) != 2:
        raise InstanceError(where, f"must be [from, to] in minutes, not {_shown(value)}.")
    begin, end = (_whole(where, minute, 0, MIDNIGHT) for minute in value)
    if begin > end:
        raise InstanceError(where, f"ends at {end}, before it begins at {begin}.")
    return begin, end


def _spans(where: str, value: object) -> tuple[Span, ...]:
    if not isinstance(value, list):
        raise InstanceError(where, f"must be a list of [from, to], not {_shown(value)}.")
    spans = tuple(_span(f"{where}[{i}]", span) for i, span in enumerate(value))
    for number, (one, two) in enumerate(zip(spans, spans[1:], strict=False), 1):
        if two[0] < one[1]:
            raise InstanceError(f"{where}[{number}]", "begins before the window before it ends.")
    return spans


def _day(row: _Fields) -> Day:
    return Day(row.text("date"), row.whole("offset", 0), row.whole("weekday", 0, 6))


def _travel(row: _Fields) -> Travel:
    return Travel(
        row.whole("metres_per_minute", 1),
        row.whole("detour_percent", 100),
        row.whole("cost_per_minute", 0),
    )


def _pause(row: _Fields) -> Pause:
    pause = Pause(
        row.whole("minutes", 0), row.whole("from", 0, MIDNIGHT), row.whole("to", 0, MIDNIGHT)
    )
    if pause.closes < pause.opens:
        raise InstanceError(row.at("to"), f"must not lie before `from`, {pause.opens}.")
    return pause


def _depot(row: _Fields) -> Depot:
    return Depot(
        id=row.text("id"),
        x=row.whole("x"),
        y=row.whole("y"),
        stock=row.whole("stock", 0),
        deliveries=row.numbered("deliveries", lambda at, value: _whole(at, value, 0, None)),
    )


def _building(row: _Fields) -> Building:
    windows = row.numbered("windows", _spans)
    return Building(row.text("id"), row.whole("x"), row.whole("y"), windows)


def _crew(row: _Fields) -> Crew:
    absent = [_whole(row.at("absent"), day, 0, None) for day in row.list("absent")]
    return Crew(
        id=row.text("id"),
        depot=row.text("depot"),
        skills=row.texts("skills"),
        hours=row.numbered("hours", _span),
        absent=frozenset(absent),
        cylinders=row.whole("cylinders", 0),
        overtime_minutes=row.whole("overtime_minutes", 0, MIDNIGHT),
        overtime_cost=row.whole("overtime_cost", 0),
    )


def _order(row: _Fields) -> Order:
    return Order(
        id=row.text("id"),
        building=row.text("building"),
        kind=row.text("kind"),
        minutes=row.whole("minutes", 1),
        skills=row.texts("skills"),
        cylinders=row.whole("cylinders", 0),
        impairs=row.flag("impairs"),
        delay_rate=row.whole("delay_rate", 0),
        delay_growth=row.whole("delay_growth", 0),
        earliest=row.whole("earliest"),
        latest=row.whole_or_none("latest"),
        late_cost=row.whole("late_cost", 0),
        told=row.whole_or_none("told"),
        move_cost=row.whole("move_cost", 0),
        fixed=None if row.any("fixed") is None else _fixed(row.part("fixed")),
    )


def _fixed(row: _Fields) -> Fixed:
    return Fixed(row.text("crew"), row.whole("day", 0), row.whole("start", 0, MIDNIGHT))


def _check_days(instance: Instance) -> None:
    for number, (one, two) in enumerate(zip(instance.days, instance.days[1:], strict=False), 1):
        if two.offset <= one.offset:
            raise InstanceError(f"days[{number}].offset", f"must be more than {one.offset}.")
    if instance.left_out_offset < instance.days[-1].offset:
        raise InstanceError("left_out_offset", "must not lie before the last day.")


def _check_names(instance: Instance) -> None:
    places: list[Depot | Building] = [*instance.depots, *instance.buildings]
    _only_once("depots and buildings", (place.id for place in places))
    _only_once("crews", (crew.id for crew in instance.crews))
    _only_once("orders", (order.id for order in instance.orders))
    depots = {depot.id for depot in instance.depots}
    buildings = {building.id for building in instance.buildings}
    crews = {crew.id for crew in instance.crews}
    for number, crew in enumerate(instance.crews):
        _known(f"crews[{number}].depot", crew.depot, depots, "depot")
    for number, order in enumerate(instance.orders):
        _known(f"orders[{number}].building", order.building, buildings, "building")
        if order.told is not None:
            _whole(f"orders[{number}].told", order.told, 0, len(instance.days) - 1)
        if order.fixed:
            _known(f"orders[{number}].fixed.crew", order.fixed.crew, crews, "crew")
            _whole(f"orders[{number}].fixed.day", order.fixed.day, 0, len(instance.days) - 1)


def _only_once(where: str, names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise InstanceError(where, f"“{name}” is there twice; give each an id of its own.")
        seen.add(name)


def _known(where: str, name: str, names: set[str], what: str) -> None:
    if name not in names:
        raise InstanceError(where, f"names the {what} “{name}”, which the file does not hold.")
