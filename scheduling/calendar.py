"""The calendar behind a feed's address: what its owner may see at this moment, and nothing else."""

from datetime import datetime

from scheduling.feeds import build_feed
from scheduling.models import FeedToken, Task
from scheduling.publishing import entry_of, publish
from scheduling.querysets import TaskQuerySet


def tasks_of(token: FeedToken, now: datetime) -> TaskQuerySet:
    tasks = Task.objects.on_calendars(now).visible_to(token.user)
    if token.scope == FeedToken.Scope.SITE:
        tasks = tasks.filter(system__site=token.site)
    elif token.scope == FeedToken.Scope.SYSTEM:
        tasks = tasks.filter(system=token.system)
    return tasks.with_place().order_by("starts_at", "pk")


def calendar_of(token: FeedToken, now: datetime) -> tuple[bytes, datetime]:
    """The file, and when anything in it last changed.

    A site may have moved or been renamed since its follow-ups were last revised; they are revised
    here before they are shown, so no reader can see a new place under an old SEQUENCE.
    """
    tasks = list(tasks_of(token, now))
    publish(tasks, now)
    body = build_feed(f"Riserbook: {token.label}", [entry_of(task) for task in tasks])
    return body, max((task.modified_at for task in tasks), default=token.created_at)
