from django.db.models import QuerySet

from registry.models import System


def lock_all(systems: QuerySet[System]) -> None:
    """Hold the rows of several systems until the transaction ends.

    Whoever needs more than one takes them here first, in the order of their keys: two who took
    them in different orders would wait for each other.
    """
    held = System.objects.select_for_update().filter(pk__in=systems.order_by().values("pk"))
    list(held.order_by("pk").values_list("pk"))
