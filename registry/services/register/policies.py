"""An owner's limits changed: what was derived with the old ones is derived again."""

from datetime import datetime

from django.db import transaction

from registry.models import Organisation, System
from registry.services.assessments import follow_ledger
from registry.services.derive import rederive_many
from registry.services.locking import lock_all

CHUNK = 200
POLICY_CHANGED = "registry.policy_changed"


def policy_changed(owner: Organisation, *, now: datetime) -> None:
    """Chunk by chunk, each in a transaction that holds its systems."""
    systems = System.objects.filter(site__owner=owner).order_by("pk")
    keys = list(systems.values_list("pk", flat=True))
    for begin in range(0, len(keys), CHUNK):
        with transaction.atomic():
            held = systems.filter(pk__in=keys[begin : begin + CHUNK])
            lock_all(held)
            chunk = list(held.select_related("site__owner__policy"))
            follow_ledger(rederive_many(chunk, now=now), now)
