"""The weekly digest of what one person may see: what changed, what is late, what comes next, and
the heads of the ledgers."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import F, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext

from registry.models import AtmosphereSpan, Membership, System, User
from registry.words.told.retelling import retold
from scheduling.messages.chain_heads import ChainHeads, heads_of
from scheduling.messages.links import absolute
from scheduling.messages.outbox import write
from scheduling.models import MailPreference, Message, Occurrence, Task
from scheduling.models.querysets import protection_first
from scheduling.orders.due_words import day, due_words

WEEK = timedelta(days=7)
HOUR = time(7)
LISTED = 20


@dataclass(frozen=True)
class Section:
    """The first lines of a list, and how long it is."""

    title: str
    lines: list[dict[str, Any]]
    count: int

    @property
    def more(self) -> int:
        return self.count - len(self.lines)


@dataclass(frozen=True)
class Digest:
    since: datetime
    until: datetime
    sections: list[Section]
    heads: ChainHeads
    zone: ZoneInfo

    @property
    def subject(self) -> str:
        late = self.sections[1].count
        words = gettext("{late} late").format(late=late) if late else gettext("nothing late")
        return gettext("Week to {date}: {words}").format(
            date=day(self.until.astimezone(self.zone).date()), words=words
        )


def _in_order(tasks: QuerySet[Task]) -> QuerySet[Task]:
    return tasks.order_by(protection_first(), "due_at", "pk")


def ask_for_digests(now: datetime) -> int:
    """Write this week's digest for all whose Monday morning has come; the constraint on the row
    makes it once a week however often this runs. After a standstill it comes late."""
    asked = 0
    for person in _readers().iterator(chunk_size=500):
        preference = MailPreference.of(person)
        monday = monday_morning(now, preference.zone)
        key = f"week {monday.date():%G-W%V}"
        if not preference.wants_digest or now < monday or person.date_joined > monday:
            continue
        if not Message.objects.filter(person=person, kind=Message.Kind.DIGEST, cause_key=key):
            write(kind=Message.Kind.DIGEST, cause_key=key, people=[person], now=now)
            asked += 1
    return asked


def _readers() -> QuerySet[User]:
    members = Membership.objects.values("user")
    return User.objects.filter(is_active=True, pk__in=members).order_by("pk")


def monday_morning(now: datetime, zone: ZoneInfo) -> datetime:
    """When the digest of this week is due where the reader is."""
    today = now.astimezone(zone).date()
    return datetime.combine(today - timedelta(days=today.weekday()), HOUR, zone)


def digest_of(person: User, now: datetime) -> Digest | None:
    """None for a person who may see no system."""
    systems = System.objects.visible_to(person)
    if not systems.exists():
        return None
    zone = MailPreference.of(person).zone
    sections = [
        _changed(systems, now - WEEK, now, zone),
        _late(person, now),
        _next(person, now),
        *_incomplete(systems),
    ]
    return Digest(now - WEEK, now, sections, heads_of(person, now), zone)


def _changed(systems: QuerySet, since: datetime, now: datetime, zone: ZoneInfo) -> Section:
    """Every change of state in the week, also of a system that changed back since."""
    spans = (
        AtmosphereSpan.objects.filter(system__in=systems, starts_at=F("state_since"))
        .filter(starts_at__gt=since, starts_at__lte=now)
        .select_related("system__site")
        .order_by("-starts_at", "pk")
    )
    lines = [
        {
            "what": f"{span.system.tag}, {span.system.site.name}",
            "note": _noted(
                gettext("{state} since {day}. {reason}").format(
                    state=span.get_state_display().lower(),
                    day=day(span.starts_at.astimezone(zone).date()),
                    reason=retold(span.reason),
                ),
                span.system,
            ),
            "link": absolute(span.system.get_absolute_url()),
        }
        for span in spans[:LISTED]
    ]
    return Section(gettext("What changed state"), lines, spans.count())


def _incomplete(systems: QuerySet) -> list[Section]:
    """Not a word where every register is whole."""
    waiting = systems.filter(open_rows__gt=0).select_related("site")
    count = waiting.count()
    lines = [
        {
            "what": f"{system.tag}, {system.site.name}",
            "note": system.incomplete_words,
            "link": absolute(system.get_absolute_url()),
        }
        for system in waiting.order_by("-open_rows", "pk")[:LISTED]
    ]
    return [Section(gettext("Whose register is incomplete"), lines, count)] if count else []


def _noted(note: str, system: System) -> str:
    """What is said of a system, with what it may be wrong for."""
    return f"{note} {gettext('Its register is incomplete.')}" if system.is_incomplete else note


def _late(person: User, now: datetime) -> Section:
    tasks = Task.objects.overdue(now).visible_to(person).with_place()
    planned = Occurrence.objects.late(now).visible_to(person).with_place()
    return _work(gettext("What is late"), tasks, planned, now)


def _next(person: User, now: datetime) -> Section:
    tasks = Task.objects.open().due_between(now, now + WEEK).visible_to(person).with_place()
    ahead = Q(late_at__gt=now, late_at__lte=now + WEEK)
    planned = Occurrence.objects.open().filter(ahead).visible_to(person).with_place()
    return _work(gettext("What is due in the next seven days"), tasks, planned, now)


def _work(title: str, tasks: QuerySet, planned: QuerySet, now: datetime) -> Section:
    """Follow-ups first: each was raised by something that happened."""
    count = tasks.count() + planned.count()
    lines = [_task_line(task, now) for task in _in_order(tasks)[:LISTED]]
    rest = LISTED - len(lines)
    lines += [_planned_line(one) for one in planned.order_by("late_at", "pk")[:rest]]
    return Section(title, lines, count)


def _task_line(task: Task, now: datetime) -> dict[str, Any]:
    return {
        "what": f"{task.title}, {task.system.tag}, {task.system.site.name}",
        "note": _noted(f"{due_words(task, now).text}. For {task.assigned_to}.", task.system),
        "link": absolute(task.get_absolute_url()),
    }


def _planned_line(one: Occurrence) -> dict[str, Any]:
    return {
        "what": f"{one.item.title}, {one.system.tag}, {one.system.site.name}",
        "note": gettext("Window until {closes_on}.").format(closes_on=day(one.closes_on)),
        "link": absolute(reverse("scheduling:schedule", args=[one.system_id])),
    }
