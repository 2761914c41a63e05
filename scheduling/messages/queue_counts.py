"""How the outbox stands for the people and endpoints of some owners, for a page."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Q, QuerySet

from registry.models import Organisation
from scheduling.models import Message

State = Message.State
STUCK_AFTER = timedelta(hours=1)


@dataclass(frozen=True)
class QueueCounts:
    counts: list[tuple[str, int]]
    overdue: int
    failed: list[Message]


def queue_counts(owners: QuerySet[Organisation], now: datetime, shown: int = 20) -> QueueCounts:
    ours = Message.objects.filter(
        Q(person__memberships__organisation__in=owners) | Q(endpoint__owner__in=owners)
    )
    # Over keys, as one person may belong to two of the owners.
    messages = Message.objects.filter(pk__in=ours.values("pk"))
    found = dict(messages.order_by().values_list("state").annotate(count=Count("pk")))
    failed = messages.filter(state=State.FAILED).select_related("person", "endpoint")
    return QueueCounts(
        counts=[(state.label, found.get(state.value, 0)) for state in State],
        overdue=messages.due(now - STUCK_AFTER).count(),
        failed=list(failed[:shown]),
    )
