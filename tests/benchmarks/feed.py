"""How fast a calendar feed of many follow-ups is answered, against building it plainly.

Run `python -m tests.benchmarks --part feed [--size N]`. Plainly: the follow-ups read, and every one
made an event by the icalendar library, as a feed without any memory does at every fetch.
"""

import json
import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import timedelta
from typing import Any

from tests.benchmarks.scratch import NOW, scratch_book, step
from tests.benchmarks.tables import Table

DAY = timedelta(days=1)
ROUNDS = 5


@dataclass(frozen=True)
class Timing:
    """Milliseconds a fetch."""

    events: int
    plain: float
    first: float
    warm: float
    one_changed: float
    unchanged: float


def measure(events: int) -> Timing:
    with scratch_book() as environment:
        step("scratch", events, environment=environment)
        return Timing(**step("feed", environment=environment))


def answer() -> Timing:
    """Inside the scratch book: one follow-up a system, all on one person's calendar."""
    from django.test import Client
    from django.urls import reverse

    from registry.models import User
    from scheduling.calendars.file import PIECES
    from scheduling.calendars.tokens import issue_token
    from scheduling.models import Task

    raise_one_each()
    token, secret = issue_token(user=User.objects.get(), label="Work", scope="person", now=NOW)
    client, address = Client(), reverse("scheduling:feed", args=[secret])

    def fetch(**headers: str):
        return client.get(address, headers=headers, SERVER_NAME="localhost")

    def first() -> None:
        PIECES.clear()
        fetch()

    def one_changed() -> None:
        task = Task.objects.order_by("pk").first()
        Task.objects.filter(pk=task.pk).update(title=f"Order {time.perf_counter_ns()}")
        fetch()

    plain, made = usual(lambda: plainly(token)), usual(first)
    warm, changed = usual(fetch), usual(one_changed)
    whole = fetch()
    assert plainly(token).count(b"BEGIN:VEVENT") == whole.content.count(b"BEGIN:VEVENT")
    unchanged = usual(lambda: fetch(if_none_match=whole["ETag"]))
    assert fetch(if_none_match=whole["ETag"]).status_code == 304
    return Timing(Task.objects.count(), plain, made, warm, changed, unchanged)


def usual(work: Callable[[], Any]) -> float:
    times = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return 1000 * statistics.median(times)


def raise_one_each() -> None:
    from registry.models import Organisation, System
    from scheduling.calendars.follow_ups import stamp
    from scheduling.models import Task

    owner = Organisation.objects.get()
    tasks = [
        Task(
            system=system,
            rule="aerated",
            kind="reinerting_order",
            cause_key=str(system.pk),
            title="Re-inerting order",
            why="The pipe is aerated: a sprinkler opened on 30 May 2026.",
            assigned_to=owner,
            starts_at=NOW + (number % 200) * DAY,
            ends_at=NOW + (number % 200) * DAY + DAY / 8,
            due_at=NOW + (number % 200) * DAY + DAY,
            time_zone=system.site.time_zone,
            raised_at=NOW,
            modified_at=NOW,
        )
        for number, system in enumerate(System.objects.select_related("site", "building"))
    ]
    for number, task in enumerate(tasks, start=1):
        task.pk = number  # its address is part of what is published
        stamp(task, NOW)
    Task.objects.bulk_create(tasks)


def plainly(token) -> bytes:
    """The same calendar written without help: one event after the other, with the same library."""
    from icalendar import Alarm, Calendar, Event

    from scheduling.calendars.file import tasks_of
    from scheduling.calendars.follow_ups import entry_of
    from scheduling.calendars.zones import describe_zone

    calendar = Calendar()
    calendar.add("prodid", "-//Riserbook//Plainly//EN")
    calendar.add("version", "2.0")
    calendar.add("name", token.label)
    calendar.add_component(describe_zone("Europe/London", NOW.year, NOW.year + 1))
    for task in tasks_of(token, NOW):
        entry, event, alarm = entry_of(task), Event(), Alarm()
        for name, value in (
            ("uid", entry.uid),
            ("sequence", entry.sequence),
            ("dtstamp", entry.modified_at),
            ("last-modified", entry.modified_at),
            ("created", entry.created_at),
            ("dtstart", entry.slot.starts_at.astimezone(task.zone)),
            ("dtend", entry.slot.ends_at.astimezone(task.zone)),
            ("status", "CONFIRMED"),
            ("transp", "TRANSPARENT"),
            ("summary", entry.text.summary),
            ("location", entry.slot.location),
            ("description", entry.text.description),
            ("url", entry.text.url),
            ("categories", list(entry.text.categories)),
            ("priority", entry.text.priority),
        ):
            event.add(name, value)
        alarm.add("action", "DISPLAY")
        alarm.add("trigger", -DAY)
        alarm.add("description", entry.text.summary)
        event.add_component(alarm)
        calendar.add_component(event)
    return calendar.to_ical()


def table(timing: Timing) -> Table:
    ways = (
        ("plainly with the library", timing.plain),
        ("first build", timing.first),
        ("warm build", timing.warm),
        ("warm, one follow-up changed", timing.one_changed),
        ("304, nothing changed", timing.unchanged),
    )
    return Table(
        f"A calendar feed of {timing.events:,} follow-ups",
        ("way", "ms a fetch", "plainly takes so many times longer"),
        [(name, f"{took:.1f}", f"{timing.plain / took:.1f}") for name, took in ways],
    )


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(asdict(answer())))
