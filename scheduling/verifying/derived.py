"""Atmosphere and protection against the records, except where the sweep is yet to derive them."""

from collections.abc import Iterator, Sequence
from functools import partial

from django.db.models import QuerySet

from registry.models import System
from registry.verifying import Check, Held
from registry.verifying.protection import check_protection
from registry.verifying.spans import check_spans


def waiting(systems: QuerySet[System]) -> QuerySet[System]:
    """Since the program or the owner's limits changed. Whoever marks a system so to hide a changed
    row has the row put right by the next sweep."""
    return systems.filter(watch__is_to_derive=True)


def derived_of(chunk: Sequence[Held]) -> Check:
    systems = System.objects.filter(pk__in=[one.system.pk for one in chunk])
    return partial(_check, set(waiting(systems).values_list("pk", flat=True)))


def _check(waiting: set[int], one: Held) -> Iterator[str]:
    if one.system.pk not in waiting:
        yield from check_spans(one)
        yield from check_protection(one)
