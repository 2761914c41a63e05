"""Rows of a loaded file that did not load: their systems are incomplete until they are settled."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import Count, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from registry.models import RowToFix, System, User
from registry.services.ledger import lock


def count_open_rows(systems: Iterable[int]) -> None:
    """Write beside each system how many of its rows are open; the caller holds the systems."""
    mine = RowToFix.objects.filter(system=OuterRef("pk"), settled_at__isnull=True).order_by()
    counted = mine.values("system").annotate(count=Count("pk")).values("count")
    System.objects.filter(pk__in=list(systems)).update(open_rows=Coalesce(Subquery(counted), 0))


@transaction.atomic
def settle_rows_to_fix(
    *,
    system: System,
    settled_by: User,
    rows: Iterable[int] | None = None,
    note: str = "",
    now: datetime | None = None,
) -> int:
    """A person says that these rows are entered by hand, or are no pipe of the system."""
    locked = lock(system)
    wanted = Q(system=locked, settled_at__isnull=True)
    if rows is not None:
        wanted &= Q(pk__in=list(rows))
    settled = RowToFix.objects.filter(wanted).update(
        settled_at=now or timezone.now(), settled_by=settled_by, settled_note=note[:200]
    )
    count_open_rows([locked.pk])
    system.refresh_from_db(fields=["open_rows"])
    return settled
