"""How fast a calendar feed of many follow-ups is answered, against building it plainly.

Run `python -m tests.benchmarks --part feed [--size N]`. Plainly: the follow-ups read, and every one
made an event by the icalendar library, as a feed without any memory does at every fetch. The feed
that the form offers (follow-ups, recurring work 90 days ahead, impairments) is that of another
owner of the same book, with as many entries: a follow-up and 16 recurring items a system. What is
compared is measured in turns, in processor time of the process, so that what else runs says little.
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
ROUNDS, TURNS = 5, 25
ENTRIES_EACH, ITEMS_EACH, MONTHLY = 33, 16, 6
AT_ONCE = 500


@dataclass(frozen=True)
class Timing:
    """Milliseconds a fetch."""

    events: int
    plain: float
    first: float
    warm: float
    one_changed: float
    unchanged: float
    offered: int
    offered_first: float
    offered_unchanged: float
    offered_tasks: int
    offered_tasks_unchanged: float


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
    user = User.objects.get()
    token, secret = issue_token(user=user, label="Work", scope="person", now=NOW)
    client = Client()

    def fetch(named: str = "", **headers: str):
        address = reverse("scheduling:feed", args=[named or secret])
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
    other, offered = offered_feed(events=Task.objects.count())
    tasks_alone = feed_of(other, ("tasks",))
    first_of_it = once(lambda: fetch(offered))
    tags = {each: fetch(each)["ETag"] for each in (secret, offered, tasks_alone)}
    for each, tag in tags.items():
        assert fetch(each, if_none_match=tag).status_code == 304
    times = in_turns({each: lambda e=each, t=tag: fetch(e, if_none_match=t)
                      for each, tag in tags.items()})  # fmt: skip
    entries = {each: fetch(each).content.count(b"BEGIN:VEVENT") for each in tags}
    return Timing(
        Task.objects.filter(rule="aerated").count(), plain, made, warm, changed, times[secret],
        entries[offered], first_of_it, times[offered],
        entries[tasks_alone], times[tasks_alone],
    )  # fmt: skip


def usual(work: Callable[[], Any]) -> float:
    times = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return 1000 * statistics.median(times)


def once(work: Callable[[], Any]) -> float:
    begin = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - begin)


def in_turns(works: dict[str, Callable[[], Any]]) -> dict[str, float]:
    """The median of each in milliseconds of processor time, one after the other in every round."""
    times: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(TURNS):
        for name, work in works.items():
            begin = time.process_time()
            work()
            times[name].append(time.process_time() - begin)
    return {name: 1000 * statistics.median(taken) for name, taken in times.items()}


def feed_of(user, holds: tuple[str, ...]) -> str:
    from scheduling.calendars.tokens import issue_token

    _, secret = issue_token(
        user=user, label="Work", scope="person", now=NOW, holds=holds, horizon_days=90
    )
    return secret


def offered_feed(events: int):
    """Of an owner whose feed, as the form offers it, holds about as many entries."""
    from registry.models import Membership, Organisation, Site, System, User

    owner = Organisation.objects.create(kind="owner", name="Averhythe Quays")
    person = User.objects.create_user("other@orvane.example", name="Other Manager")
    Membership.objects.create(user=person, organisation=owner, role="manager")
    site = Site.objects.create(owner=owner, name="Slip", time_zone="Europe/London")
    systems = System.objects.bulk_create(
        System(site=site, tag=f"S-{number:05d}", kind="wet", installed_on=NOW.date())
        for number in range(max(2, events // ENTRIES_EACH))
    )
    plan_work(systems)
    raise_one_each(systems)
    return person, feed_of(person, ("tasks", "recurring", "impairments"))


def plan_work(systems) -> None:
    """In the present, as a feed reads the clock: 16 items, the open occurrence of each to come."""
    from django.utils import timezone

    from scheduling.models import Occurrence, RecurringItem
    from scheduling.models.recurring import name_new
    from scheduling.recurrence import day_end, day_start

    now = timezone.now()
    today = now.date()
    items = RecurringItem.objects.bulk_create(
        RecurringItem(
            system=system, key=f"item-{number}", title=f"Inspect part {number}", group="inspection",
            interval="1 month" if number < MONTHLY else "1 year", before="0 days", after="7 days",
            anchor="calendar", first_due=today + (number + 1) * DAY, asked_by="The owner",
            how_known="asked", note="Look at it from the floor.",
        )
        for system in systems
        for number in range(ITEMS_EACH)
    )  # fmt: skip
    rows = [
        Occurrence(
            item=item, system=item.system, due_on=item.first_due, opens_on=item.first_due,
            closes_on=item.first_due + 7 * DAY, first_due_on=item.first_due, planned_at=now,
            opens_at=day_start(item.first_due, item.system.site.zone),
            late_at=day_end(item.first_due + 7 * DAY, item.system.site.zone),
        )
        for item in items
    ]  # fmt: skip
    for begin in range(0, len(rows), AT_ONCE):
        name_new(rows[begin : begin + AT_ONCE])
    Occurrence.objects.bulk_create(rows)


def raise_one_each(systems=None) -> None:
    from django.utils import timezone

    from registry.models import System
    from scheduling.calendars.follow_ups import stamp
    from scheduling.models import Task

    began = NOW if systems is None else timezone.now()
    systems = systems or System.objects.select_related("site__owner", "building")
    number_from = Task.objects.count() + 1
    tasks = [
        Task(
            system=system,
            rule="aerated",
            kind="reinerting_order",
            cause_key=str(system.pk),
            title="Re-inerting order",
            why="The pipe is aerated: a sprinkler opened on 30 May 2026.",
            assigned_to=system.site.owner,
            starts_at=began + (number % 200) * DAY,
            ends_at=began + (number % 200) * DAY + DAY / 8,
            due_at=began + (number % 200) * DAY + DAY,
            time_zone=system.site.time_zone,
            raised_at=NOW,
            modified_at=NOW,
        )
        for number, system in enumerate(systems)
    ]
    for number, task in enumerate(tasks, start=number_from):
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
        entry, event, alarm = entry_of(task, NOW), Event(), Alarm()
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
    rows = [
        (name, f"{timing.events:,}", f"{took:.1f}", f"{timing.plain / took:.1f}")
        for name, took in ways
    ]
    compared = timing.offered_unchanged
    rows += [
        ("as the form offers it: first build", f"{timing.offered:,}",
         f"{timing.offered_first:.1f}", ""),
        ("as the form offers it: 304", f"{timing.offered:,}", f"{compared:.1f}",
         f"{compared / timing.unchanged:.2f} times the 304 of as many follow-ups"),
        ("follow-ups of that owner alone: 304", f"{timing.offered_tasks:,}",
         f"{timing.offered_tasks_unchanged:.1f}",
         f"{compared / timing.offered_tasks_unchanged:.2f} times this the one above"),
    ]  # fmt: skip
    return Table(
        f"A calendar feed of {timing.events:,} follow-ups, and one of about as many entries of all "
        "kinds",
        ("way", "entries", "ms a fetch", "plainly takes so many times longer"),
        rows,
    )


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(asdict(answer())))
