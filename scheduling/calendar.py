"""The calendar behind a feed's address: what its owner may see at this moment, and nothing else."""

from dataclasses import replace
from datetime import datetime, timedelta

from scheduling.feeds import Entry, build_feed
from scheduling.models import FeedToken, Task
from scheduling.publishing import entry_of, publish
from scheduling.querysets import TaskQuerySet

PATHS = {
    "site": "system__site",
    "building": "system__building",
    "system": "system",
    "contractor": "assigned_to",
    "crew": "crew",
}
ALARMS = {
    FeedToken.Alarm.NONE: None,
    FeedToken.Alarm.HOUR: timedelta(hours=1),
    FeedToken.Alarm.DAY: timedelta(days=1),
    FeedToken.Alarm.WEEK: timedelta(days=7),
}


def tasks_of(token: FeedToken, now: datetime) -> TaskQuerySet:
    tasks = Task.objects.on_calendars(now).visible_to(token.user)
    narrow = {path: getattr(token, name) for name, path in PATHS.items() if getattr(token, name)}
    return tasks.filter(**narrow).with_place().order_by("starts_at", "pk")


def as_wanted(entry: Entry, token: FeedToken) -> Entry:
    """The entry with the alarm and the detail that this feed was made with."""
    entry = replace(entry, alarm_before=ALARMS[FeedToken.Alarm(token.alarm)])
    if token.detail == FeedToken.Detail.FULL:
        return entry
    return replace(
        entry,
        slot=replace(entry.slot, location=""),
        text=replace(entry.text, description="Open the link for place, reason and cautions."),
    )


def calendar_of(token: FeedToken, now: datetime) -> tuple[bytes, datetime]:
    """The file, and when anything in it last changed.

    A site may have moved or been renamed since its follow-ups were last revised; they are revised
    here before they are shown, so no reader can see a new place under an old SEQUENCE.
    """
    tasks = list(tasks_of(token, now))
    publish(tasks, now)
    entries = [as_wanted(entry_of(task), token) for task in tasks]
    body = build_feed(f"Riserbook: {token.label}", entries)
    return body, max((task.modified_at for task in tasks), default=token.created_at)
