"""Rows held until the transaction ends, so that two who change the same thing take turns."""

from django.db.models import QuerySet

from registry.models import Organisation, Site, System


def lock_all(systems: QuerySet[System]) -> None:
    """Whoever needs several systems takes them here first, in the order of their keys: two who
    took them in different orders would wait for each other."""
    held = System.objects.select_for_update().filter(pk__in=systems.order_by().values("pk"))
    list(held.order_by("pk").values_list("pk"))


def hold(row: Site | Organisation) -> None:
    """For what belongs to a site or an owner and may be there once; taken before any system.
    Rows that merely point to it can still be written."""
    rows = type(row)._base_manager.select_for_update(no_key=True)
    list(rows.filter(pk=row.pk).order_by().values_list("pk"))
