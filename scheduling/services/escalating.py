"""Raises what is late to those who are to hear of it: once for each follow-up and level."""

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from registry.models import Membership, Organisation, User
from registry.services.ledger import lock
from scheduling.follow_ups.escalation_levels import Told, levels_of, reached
from scheduling.follow_ups.trail import note
from scheduling.messages.causes import drop_late, note_late
from scheduling.models import Escalation, EscalationLevel, Task, TaskEvent

CLOCKS_AGREE = timedelta(minutes=10)
"""Between workers, as `messages/sending.py` asks."""
RAN_AHEAD = "Level {level} was raised by a clock that ran ahead, and is taken back."


@transaction.atomic
def escalate(*, task: Task, now: datetime) -> list[Escalation]:
    """The levels newly reached. Twice, or by two workers at once, is the same as once."""
    lock(task.system)
    held = Task.objects.with_place().select_related("system__site__owner").get(pk=task.pk)
    if not held.is_open:
        return []
    raised = set(held.escalations.values_list("level", flat=True))
    due = reached(levels_of(held.system.site.owner), held.due_at, now)
    return [_raise(held, level, now) for level in due if level.level not in raised]


def with_escalations(tasks: QuerySet[Task]) -> QuerySet[Task]:
    return tasks.select_related("system__site__owner").prefetch_related("escalations")


def coming_to_a_level(tasks: Iterable[Task], now: datetime) -> Iterator[int]:
    """Keys of those that have come to a level they were not raised to yet; the owners' levels are
    read once for all of `tasks`."""
    levels: dict[int, list[EscalationLevel]] = {}
    for task in tasks:
        owner = task.system.site.owner
        if owner.pk not in levels:
            levels[owner.pk] = levels_of(owner)
        raised = {each.level for each in task.escalations.all()}
        if any(level.level not in raised for level in reached(levels[owner.pk], task.due_at, now)):
            yield task.pk


def raised_ahead(now: datetime) -> QuerySet[Escalation]:
    """Those that a clock raised which ran ahead: later than clocks that agree can have raised them,
    and than the level is reached. They would keep the level from being raised when it is."""
    return Escalation.objects.filter(raised_at__gt=now + CLOCKS_AGREE)


@transaction.atomic
def take_back_ahead(*, task: Task, now: datetime) -> int:
    """Forget the levels of a follow-up that were raised ahead of time, with the messages that wait;
    what is reached by now is raised again. To be told twice is better than not to be told."""
    lock(task.system)
    taken_back = list(raised_ahead(now).filter(task=task))
    for one in taken_back:
        drop_late(task, _step(one))
        one.delete()
        note(task, TaskEvent.What.COMMENTED, now, reason=RAN_AHEAD.format(level=one.level))
    return len(taken_back)


def _step(raised: Escalation) -> str:
    """Another one each time, so that a level that was taken back is told of when it is reached."""
    return f"level-{raised.level}/{raised.pk}"


def _raise(task: Task, level: EscalationLevel, now: datetime) -> Escalation:
    people = list(people_for(level, task))
    raised = Escalation.objects.create(
        task=task, level=level.level, raised_at=now, late_since=task.due_at, told=level.told
    )
    raised.people.set(people)
    told = ", ".join(str(person) for person in people) or "nobody: none is in the book"
    note(task, TaskEvent.What.ESCALATED, now, became={"level": level.level, "told": told})
    note_late(task, people, _step(raised), now)
    return raised


def people_for(level: EscalationLevel, task: Task) -> QuerySet[User]:
    """Those who may see the follow-up, whatever the level says: a person may have left since."""
    if level.person:
        people = User.objects.filter(pk=level.person.pk, is_active=True)
    else:
        owner = task.system.site.owner
        people = managers_of(task.assigned_to if level.told == Told.WORKER else owner)
    seen = [person.pk for person in people if _may_see(person, task)]
    return User.objects.filter(pk__in=seen).order_by("name")


def managers_of(organisation: Organisation) -> QuerySet[User]:
    """Its managers; where it has none, those who do its work, so that somebody hears of it."""
    members = organisation.memberships.filter(user__is_active=True)
    managers = members.filter(role=Membership.Role.MANAGER)
    found = managers or members.filter(role=Membership.Role.RECORDER)
    return User.objects.filter(pk__in=[member.user_id for member in found])


def _may_see(person: User, task: Task) -> bool:
    return Task.objects.visible_to(person).filter(pk=task.pk).exists()
