"""What people do with a follow-up: accept, decline, book, begin, give up, hand over, comment.

Each change is claimed by one conditional UPDATE on the follow-up's `turn`, so that of two people
who act on the same page one wins and the other is told who was first.
"""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext

from registry.kinds import DetailsError
from registry.models import Organisation, Record, User
from registry.services.ledger import lock
from registry.translation import in_english
from registry.words.spoken import written
from registry.words.told.retelling import retold
from scheduling.calendars.follow_ups import stamp
from scheduling.follow_ups.standpoint import parties_at
from scheduling.follow_ups.trail import facts_of, note
from scheduling.messages.causes import note_task
from scheduling.models import Crew, Task, TaskEvent, WorkState
from scheduling.planning.check import objections
from scheduling.rules.booking import Window, Wish, problems
from scheduling.services.following import reconcile

What, State = TaskEvent.What, WorkState
AGREED = (State.OFFERED, State.ACCEPTED, State.BOOKED)
MAY_COME_FROM: dict[str, tuple[str, ...]] = {
    What.ACCEPTED: (State.OFFERED,),
    What.DECLINED: AGREED,
    What.BOOKED: AGREED,
    What.MOVED: (State.BOOKED,),
    What.CREWED: AGREED,
    What.STARTED: (State.ACCEPTED, State.BOOKED),
    What.CANNOT: (State.ACCEPTED, State.BOOKED, State.STARTED),
    What.REASSIGNED: tuple(State),
}
NOTED = ("state", "party", "crew", "starts_at", "ends_at")


class WorkError(DetailsError):
    """A change that cannot be made; `problems` says which answer and what would be right."""


@transaction.atomic
def accept(*, task: Task, by: User, now: datetime, seen: int | None = None) -> Task:
    return _change(task, What.ACCEPTED, by, now, seen, work_state=State.ACCEPTED)


@transaction.atomic
def decline(*, task: Task, by: User, now: datetime, reason: str, seen: int | None = None) -> Task:
    """Back to the owner, whose managers decide who else does it."""
    held = _hold(task)
    owner = held.system.site.owner
    if held.assigned_to_id == owner.pk:
        raise WorkError({"reason": gettext("It is the owner's already; hand it over instead.")})
    return _release(
        held, What.DECLINED, by, now, seen, _needed(reason, gettext("why it is declined")),
        work_state=State.DECLINED, assigned_to=owner, is_handed_over=True,
    )  # fmt: skip


@transaction.atomic
def give_up(*, task: Task, by: User, now: datetime, reason: str, seen: int | None = None) -> Task:
    """It turned out that the work cannot be done; the owner's managers decide what follows."""
    return _release(
        task, What.CANNOT, by, now, seen, _needed(reason, gettext("why it cannot be done")),
        work_state=State.CANNOT,
    )  # fmt: skip


@transaction.atomic
def begin(
    *, task: Task, by: User, now: datetime, seen: int | None = None, reason: str = ""
) -> Task:
    return _change(task, What.STARTED, by, now, seen, reason, work_state=State.STARTED)


@transaction.atomic
def begin_with_run(*, started: Record, now: datetime) -> list[Task]:
    """Whoever begins an inerting run has begun the order it answers, if their own organisation has
    agreed to it. The orders begun: none where nobody agreed, or it was somebody else."""
    agreed = (
        Task.objects.open()
        .inerting_runs()
        .filter(
            system=started.system,
            work_state__in=MAY_COME_FROM[What.STARTED],
            assigned_to__memberships__user=started.recorded_by,
        )
    )
    begun_before = Q(cause__isnull=True) | Q(cause__occurred_at__lte=started.occurred_at)
    why = f"An inerting run was begun: record {started.sequence} of the ledger."
    orders = list(agreed.filter(begun_before).distinct())
    return [begin(task=order, by=started.recorded_by, now=now, reason=why) for order in orders]


@transaction.atomic
def give_to_crew(
    *, task: Task, crew: Crew, by: User, now: datetime, seen: int | None = None
) -> Task:
    """Which crew goes; giving it to one accepts it."""
    held = _hold(task)
    _check_crew(held, crew)
    if held.is_booked:
        _check_free(held, crew, held.starts_at, held.ends_at)
        said = objections(held, crew, held.starts_at, held.ends_at, now=now)
        if found := [one.text for one in said if not one.is_assumed]:
            why = " ".join(found)
            raise WorkError({"crew": gettext("{why} Move the booking instead.").format(why=why)})
    state = State.ACCEPTED if held.work_state == State.OFFERED else held.work_state
    return _claim(held, What.CREWED, by, now, seen, crew=crew, work_state=state)


@transaction.atomic
def book(
    *,
    task: Task,
    starts_at: datetime,
    ends_at: datetime,
    by: User,
    now: datetime,
    crew: Crew | None = None,
    reason: str = "",
    seen: int | None = None,
    promised: bool = False,
    despite: bool = False,
    beside: Collection[int] = (),
) -> Task:
    """Set the time aside, or move what was booked; booking accepts.

    The crew must be able to keep the day beside what it is booked for, by the rules of
    `scheduling.planning.check`; `despite` books all the same, for a reason that is kept with what
    speaks against it. `beside`: keys of bookings that leave in the same transaction.
    """
    held = _hold(task)
    window = Window(held.opens_at, held.due_at, held.zone)
    if found := problems(Wish(starts_at, ends_at, reason), window, now):
        raise WorkError(found)
    if crew:
        _check_crew(held, crew)
        _check_free(held, crew, starts_at, ends_at, beside)
        reason = _check_day(held, crew, starts_at, ends_at, now, beside, despite, reason)
    elif held.assigned_to.crews.filter(is_active=True).exists():
        raise WorkError(
            {"crew": gettext("Say which crew of {who} goes.").format(who=held.assigned_to)}
        )
    what = What.MOVED if held.work_state == State.BOOKED else What.BOOKED
    return _claim(
        held, what, by, now, seen, reason.strip(),
        work_state=State.BOOKED, starts_at=starts_at, ends_at=ends_at, crew=crew,
        is_promised=promised,
    )  # fmt: skip


@transaction.atomic
def hand_over(
    *, task: Task, party: Organisation, by: User, now: datetime, reason: str = "",
    seen: int | None = None,
) -> Task:  # fmt: skip
    """Offer it to another who may have it, or once more to the same."""
    held = _hold(task)
    may_have_it = parties_at(held.system.site, now)
    if party not in may_have_it:
        names = ", ".join(str(each) for each in may_have_it)
        raise WorkError({"party": f"{party} does not serve {held.system.site} now; {names} may."})
    return _release(
        held, What.REASSIGNED, by, now, seen, reason.strip(), keeps_reason=False,
        work_state=State.OFFERED, assigned_to=party, is_handed_over=True,
    )  # fmt: skip


@transaction.atomic
def comment(*, task: Task, text: str, by: User, now: datetime) -> TaskEvent:
    return note(task, What.COMMENTED, now, by=by, reason=_needed(text, "something", "text"))


def _release(
    task: Task, what: str, by: User, now: datetime, seen: int | None, reason: str,
    *, keeps_reason: bool = True, **values,
) -> Task:  # fmt: skip
    """A change after which nobody has agreed to come: the time goes back to what the rules say."""
    values |= {"work_reason": reason if keeps_reason else "", "crew": None, "is_promised": False}
    changed = _change(task, what, by, now, seen, reason, **values)
    reconcile(system=changed.system, now=now)
    changed.refresh_from_db()
    return changed


def _change(
    task: Task, what: str, by: User, now: datetime, seen: int | None, reason: str = "", **values
) -> Task:
    return _claim(_hold(task), what, by, now, seen, reason, **values)


def _hold(task: Task) -> Task:
    """The row as it stands, with its system held until the transaction ends: the rules wait."""
    system = lock(task.system)
    held = Task.objects.with_place().select_related("crew", "system__site__owner").get(pk=task.pk)
    if system.pk != held.system_id:
        raise WorkError({"__all__": "The follow-up belongs to another system now."})
    return held


def _claim(
    held: Task, what: str, by: User, now: datetime, seen: int | None, reason: str = "", **values
) -> Task:
    turn = held.turn if seen is None else seen
    before = facts_of(held, *NOTED)
    won = Task.objects.filter(
        pk=held.pk, turn=turn, status=Task.Status.OPEN, work_state__in=MAY_COME_FROM[what]
    ).update(turn=turn + 1, **values)
    if not won:
        raise WorkError({"__all__": _overtaken(held)})
    for name, value in (values | {"turn": turn + 1}).items():
        setattr(held, name, value)
    if stamp(held, now):
        held.save(update_fields=["sequence", "modified_at", "slot_digest", "text_digest"])
    note(held, what, now, by=by, was=before, became=facts_of(held, *NOTED), reason=reason)
    note_task(held, now)
    return held


def _overtaken(held: Task) -> str:
    """Who was first, or how it stands that this cannot be done with it."""
    if not held.is_open:
        return gettext("It is {state} already; nothing was changed.").format(
            state=held.get_status_display().lower()
        )
    stands = gettext("It is {state}, for {who}").format(
        state=held.get_work_state_display().lower(), who=held.assigned_to
    )
    last = held.trail.exclude(what=What.COMMENTED).select_related("by").last()
    if last is None or last.by is None:
        return gettext("{stands}; nothing was changed.").format(stands=stands)
    when = written(last.at.astimezone(held.zone), "%-d %B %Y, %H:%M")
    return gettext("{stands}: {who} was first, {when}. Nothing was changed; look again.").format(
        stands=stands, who=last.by, when=when
    )


def _check_crew(held: Task, crew: Crew) -> None:
    if crew.organisation_id != held.assigned_to_id or not crew.is_active:
        raise WorkError(
            {
                "crew": gettext("{crew} is not a crew of {who} that goes out.").format(
                    crew=crew, who=held.assigned_to
                )
            }
        )
    if not crew.people.exists():
        raise WorkError(
            {"crew": gettext("Nobody is in {crew} yet; add its people first.").format(crew=crew)}
        )


def _check_day(
    held: Task, crew: Crew, starts_at: datetime, ends_at: datetime, now: datetime,
    beside: Collection[int], despite: bool, reason: str,
) -> str:  # fmt: skip
    """The reason to keep, with what the booking goes against; WorkError where it may not."""
    said = objections(held, crew, starts_at, ends_at, now=now, without=beside)
    held.remarks = [one.text for one in said if one.is_assumed]
    found = [one for one in said if not one.is_assumed]
    if not found:
        return reason
    if not despite:
        raise WorkError({"despite": " ".join(one.text for one in found)})
    if not reason.strip():
        raise WorkError({"reason": gettext("Say why it is booked all the same.")})
    with in_english():
        said = objections(held, crew, starts_at, ends_at, now=now, without=beside)
        why = " ".join(one.text for one in said if not one.is_assumed)
        return gettext("{reason} (booked all the same, although: {why})").format(
            reason=reason.strip(), why=why
        )


def _check_free(
    held: Task, crew: Crew, starts_at: datetime, ends_at: datetime, beside: Collection[int] = ()
) -> None:
    """Held by the crew's row, so that two bookings at once see each other."""
    Crew.objects.select_for_update().get(pk=crew.pk)
    other = (
        Task.objects.booked()
        .filter(crew=crew, starts_at__lt=ends_at, ends_at__gt=starts_at)
        .exclude(pk__in={held.pk, *beside})
        .with_place()
        .first()
    )
    if other:
        raise WorkError(
            {
                "crew": gettext("{crew} is out already: {booking}.").format(
                    crew=crew, booking=booking_words(other)
                )
            }
        )


def booking_words(task: Task) -> str:
    starts, ends = (when.astimezone(task.zone) for when in (task.starts_at, task.ends_at))
    return (
        f"{retold(task.title)}, {task.system.tag}, {task.system.place}, "
        f"{written(starts, '%-d %B %Y')}, "
        + gettext("{starts} to {ends}").format(starts=f"{starts:%H:%M}", ends=f"{ends:%H:%M}")
    )


def _needed(text: str, what: str, field: str = "reason") -> str:
    if not text.strip():
        raise WorkError({field: gettext("Write {what}.").format(what=what)})
    return text.strip()
