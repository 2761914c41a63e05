"""Orders of the portfolio, and pages by key: where a page ends is in its address, so that the
two-hundredth page costs what the first does, and a row that comes or goes moves no other."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from django.db.models import (
    Case,
    F,
    FilteredRelation,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce, Concat
from django.utils.dateparse import parse_date, parse_datetime

from registry.access import key_in
from registry.models import ProtectionSpan, Record
from reports.portfolio.ordering import by_oxygen
from scheduling.lateness import with_lateness

PER_PAGE: Final = 50
USUAL: Final = "-score"
SOMETHING_HAPPENED = Q(kind__startswith="event.") | Q(kind__startswith="inerting.")
OUT = ProtectionSpan.State
WORST_PROTECTION_FIRST = Case(
    When(protection_state=OUT.IMPAIRED, then=Value(0)),
    When(protection_state=OUT.IN_SERVICE, then=Value(2)),
    default=Value(1),
    output_field=IntegerField(),
)
GAP = Value("\x1f")
IS_LATEST = Q(assessments__is_latest=True)


def with_latest(systems: Any) -> Any:
    """Joins the latest assessment as `latest`; its fields are to be had by that name."""
    return systems.annotate(latest=FilteredRelation("assessments", condition=IS_LATEST))


def number(text: str) -> float:
    return float(text)


def instant(text: str) -> datetime | None:
    return parse_datetime(text)


def day(text: str) -> date | None:
    return parse_date(text)


@dataclass(frozen=True)
class Order:
    """One way to order: what it adds to the query, the key, and how a key is read back."""

    add: Callable[[Any, datetime], Any]
    key: Any
    read: Callable[[str], Any] = str
    is_reversed: bool = False  # a low key counts for much: an early day is a great age


def _latest(name: str, **more: Any) -> Order:
    return Order(lambda rows, now: with_latest(rows), F(f"latest__{name}"), number, **more)


def _plain(rows: QuerySet, now: datetime) -> QuerySet:
    return rows


def _happened(rows: QuerySet, now: datetime) -> QuerySet:
    events = Record.objects.current().filter(SOMETHING_HAPPENED, system=OuterRef("pk"))
    latest = events.order_by("-occurred_at", "-sequence").values("occurred_at")[:1]
    return rows.alias(last_event_at=Subquery(latest))


PLACE = Concat("site__name", GAP, Coalesce("building__name", Value("")), GAP, "tag")
ORDERS: Mapping[str, Order] = {
    "score": _latest("score"),
    "loss": _latest("leak_in_5_yr"),
    "life": _latest("life_mid_yr"),
    "delay": _latest("delay_points_per_week"),
    "tag": Order(_plain, F("tag")),
    "place": Order(_plain, PLACE),
    "kind": Order(_plain, F("kind")),
    "atmosphere": Order(lambda rows, now: rows.with_atmosphere(now), F("atmosphere_state")),
    "protection": Order(lambda rows, now: rows.with_protection(), WORST_PROTECTION_FIRST, number),
    "volume": Order(lambda rows, now: rows.with_volume(), F("volume_m3"), number),
    "age": Order(_plain, F("installed_on"), day, is_reversed=True),
    "late": Order(with_lateness, F("first_due_at"), instant),
    "last_event": Order(_happened, F("last_event_at"), instant),
}
OXYGEN = "oxygen"
SORTS = (*ORDERS, OXYGEN)


@dataclass(frozen=True)
class Sort:
    name: str
    is_descending: bool

    @classmethod
    def of(cls, text: str) -> "Sort":
        """The order asked for; one that there is not is the usual one, worst first."""
        name = text.removeprefix("-")
        if name not in SORTS:
            return cls.of(USUAL)
        return cls(name, text.startswith("-"))

    @property
    def text(self) -> str:
        return f"-{self.name}" if self.is_descending else self.name


@dataclass(frozen=True)
class Keys:
    """The systems of one page, and the addresses' ends of the pages beside it."""

    pks: Sequence[int]
    before: str = ""
    after: str = ""


def keys_of_page(
    systems: QuerySet, sort: Sort, now: datetime, *, after: str = "", before: str = "",
    size: int = PER_PAGE,
) -> Keys:  # fmt: skip
    """Keys of a page. `after` and `before` are ends as `Keys` gave them; others begin anew."""
    if sort.name == OXYGEN:
        return _by_oxygen(systems, sort, now, after, before, size)
    order = ORDERS[sort.name]
    is_down = sort.is_descending != order.is_reversed
    rows = order.add(systems, now).annotate(sort_key=order.key)
    end = _end(order, before or after)
    is_back = bool(before) and end is not None
    if end is not None:
        rows = rows.filter(_beyond(end, is_down=is_down, is_back=is_back))
    found = list(_in_order(rows, is_down, is_back).values_list("sort_key", "pk")[: size + 1])
    has_more, found = len(found) > size, found[:size]
    if is_back:
        found.reverse()
    has_before = (has_more if is_back else end is not None) and bool(found)
    has_after = (is_back or has_more) and bool(found)
    return Keys(
        [pk for _, pk in found],
        _written(found[0]) if has_before else "",
        _written(found[-1]) if has_after else "",
    )


def all_keys(systems: QuerySet, sort: Sort, now: datetime) -> list[int]:
    """Every key in order, for a file of all of them."""
    if sort.name == OXYGEN:
        return list(by_oxygen(systems, now, is_descending=sort.is_descending).keys)
    order = ORDERS[sort.name]
    rows = order.add(systems, now).annotate(sort_key=order.key)
    is_down = sort.is_descending != order.is_reversed
    return list(_in_order(rows, is_down, False).values_list("pk", flat=True))


def _in_order(rows: QuerySet, is_down: bool, is_back: bool) -> QuerySet:
    """Unknown keys stand last, whichever way the known ones go; alike ones by their key."""
    key, nulls = F("sort_key"), {"nulls_first": True} if is_back else {"nulls_last": True}
    by = key.desc(**nulls) if is_down != is_back else key.asc(**nulls)
    return rows.order_by(by, "-pk" if is_back else "pk")


def _beyond(end: tuple[Any, int], *, is_down: bool, is_back: bool) -> Q:
    value, pk = end
    beside = Q(pk__lt=pk) if is_back else Q(pk__gt=pk)
    if value is None:
        unknown = Q(sort_key__isnull=True) & beside
        return unknown | Q(sort_key__isnull=False) if is_back else unknown
    further = {f"sort_key__{'lt' if is_down != is_back else 'gt'}": value}
    found = Q(**further) | Q(sort_key=value) & beside
    return found if is_back else found | Q(sort_key__isnull=True)


def _written(row: tuple[Any, int]) -> str:
    value, pk = row
    if value is None:
        return f"{pk}"
    text = value.isoformat() if isinstance(value, date) else repr(value)
    return f"{pk}:{value if isinstance(value, str) else text}"


def _end(order: Order, text: str) -> tuple[Any, int] | None:
    key, colon, rest = text.partition(":")
    pk = key_in(key)
    if pk is None:
        return None
    if not colon:
        return None, pk
    try:
        value = order.read(rest)
    except ValueError:
        return None
    return None if value is None else (value, pk)


def _by_oxygen(
    systems: QuerySet, sort: Sort, now: datetime, after: str, before: str, size: int
) -> Keys:
    """By what no database can work out; all of them are read, so a page is found by its key."""
    pks = list(by_oxygen(systems, now, is_descending=sort.is_descending).keys)
    at = {pk: place for place, pk in enumerate(pks)}
    begin = 0
    if (pk := key_in(after)) in at:
        begin = at[pk] + 1
    elif (pk := key_in(before)) in at:
        begin = max(at[pk] - size, 0)
    page = pks[begin : begin + size]
    return Keys(
        page,
        str(page[0]) if begin and page else "",
        str(page[-1]) if begin + size < len(pks) and page else "",
    )
