"""The portfolio in the order of the oxygen that it shows, which no database can work out: between
two records the gas drifts, and the drift is the model's to tell."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from operator import itemgetter
from typing import Any, overload

from django.db.models import OuterRef, QuerySet, Subquery

from registry.atmosphere_rows.spans import oxygen_by
from registry.models import AtmosphereSpan, System

SPAN_FIELDS = ("starts_at", "oxygen_low", "oxygen_mid", "oxygen_high")


class InOrder:
    """A queryset's rows by their keys, read a page at a time; what a table asks of a queryset."""

    def __init__(self, queryset: QuerySet, keys: Sequence[int]):
        self.queryset, self.keys, self.model = queryset, keys, queryset.model

    def count(self) -> int:
        return len(self.keys)

    def __len__(self) -> int:
        return len(self.keys)

    def __iter__(self) -> Iterator[Any]:
        return iter(self[:])

    @overload
    def __getitem__(self, wanted: int) -> Any: ...

    @overload
    def __getitem__(self, wanted: slice) -> list[Any]: ...

    def __getitem__(self, wanted):
        if isinstance(wanted, int):
            return self.queryset.get(pk=self.keys[wanted])
        keys = self.keys[wanted]
        found = self.queryset.order_by().in_bulk(keys)
        return [found[key] for key in keys if key in found]

    def order_by(self, *names: str) -> "InOrder":
        """It has its order; a second column to sort by changes nothing."""
        return self


def by_oxygen(systems: QuerySet | InOrder, now: datetime, *, is_descending: bool) -> InOrder:
    """By the estimate at `now`; alike ones by tag, those without an estimate last."""
    if isinstance(systems, InOrder):
        return systems
    by_tag = sorted(_light(systems, now), key=lambda system: (system.tag, system.pk))
    estimates = [(system.pk, _oxygen_now(system, now)) for system in by_tag]
    known = [(oxygen, pk) for pk, oxygen in estimates if oxygen is not None]
    known.sort(key=itemgetter(0), reverse=is_descending)
    unknown = [pk for pk, oxygen in estimates if oxygen is None]
    return InOrder(systems, [pk for _, pk in known] + unknown)


def _light(systems: QuerySet, now: datetime) -> Iterator[Any]:
    """The same systems with the span that holds now and nothing else that the table shows."""
    spans = AtmosphereSpan.objects.filter(system=OuterRef("pk"), starts_at__lte=now)
    latest = spans.order_by("-starts_at")
    holding = {f"span_{name}": Subquery(latest.values(name)[:1]) for name in SPAN_FIELDS}
    same = System.objects.filter(pk__in=systems.order_by().values("pk"))
    return same.select_related("site").with_volume().annotate(**holding).order_by().iterator()


def _oxygen_now(system: Any, now: datetime) -> float | None:
    if system.span_starts_at is None:
        return None
    span = AtmosphereSpan(**{name: getattr(system, f"span_{name}") for name in SPAN_FIELDS})
    return oxygen_by(span, system, now, volume_m3=system.volume_m3).mid
