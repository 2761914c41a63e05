"""The one feasibility check, asked of a booking by hand: may this crew be there then?

A filled day, a drag and the planner ask `scheduling.crews.walk` of the same instance.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext

from scheduling.crews import Board, Refusal, Rule, walk
from scheduling.models import Crew, Task
from scheduling.planning.book import Week, bookings, instant, read
from scheduling.planning.facts import crews_of
from scheduling.planning.words import day_words, length_words, order_words, refusal_words


@dataclass(frozen=True)
class Objection:
    """A rule that a booking would break, and the sentence that says so.

    `is_assumed`: only by hours, ways or places that nobody stated; a person is told, not refused.
    """

    rule: Rule
    text: str
    is_assumed: bool = False


def objections(
    task: Task,
    crew: Crew,
    starts_at: datetime,
    ends_at: datetime,
    *,
    now: datetime,
    without: Collection[int] = (),
) -> list[Objection]:
    """What speaks against it; empty when the crew can do it beside what it is booked for.

    `without`: keys of bookings that are not counted. The rules of the crew's whole day are asked
    again with this booking in it; a day that broke them before is judged by its neighbours alone.
    """
    zone = task.zone
    day = starts_at.astimezone(zone).date()
    last = day + timedelta(days=6 - day.weekday())
    days = [day + timedelta(days=n) for n in range((last - day).days + 1)]
    others = [
        other
        for other in bookings(task.assigned_to, day, last, zone)
        if other.pk != task.pk and other.pk not in without
    ]
    wish = _as_booked(task, crew, starts_at, ends_at)
    crews = crews_of(task.assigned_to)
    if crew.pk not in {one.pk for one in crews}:
        crews.append(crew)
    week = read(
        task.assigned_to, days, zone=zone, now=now, fixed=others, free=[], crews=crews, asked=wish
    )
    at = week.crew_number(crew)
    assert at is not None  # it is among the crews read
    found = [
        Objection(one.rule, refusal_words(week, one, crew, day), _is_assumed(week, one, crew, day))
        for one in _refusals(week, at)
    ]
    if (at, 0) in week.set_aside:
        found += _too_near(week, wish, [one for one in others if one.crew_id == crew.pk])
    return found + _impaired_by_others(week, wish, day)


def _as_booked(task: Task, crew: Crew, starts_at: datetime, ends_at: datetime) -> Task:
    """The follow-up as it would be, without a word to the database."""
    wish = Task.objects.with_place().select_related("system__site__owner").get(pk=task.pk)
    wish.crew, wish.starts_at, wish.ends_at = crew, starts_at, ends_at
    return wish


def _refusals(week: Week, at: int) -> list[Refusal]:
    problem = week.problem
    shift = problem.shift_at.get((at, 0))
    if shift is None:
        return [Refusal(Rule.AWAY, "The crew does not go out.")]
    found = [one] if isinstance(one := walk(problem, shift, shift.fixed), Refusal) else []
    board = Board(problem)
    for other in problem.shifts:
        if other.fixed and other is not shift:
            board.put(other, other.fixed)
    refusal = board.shared_refusal(shift, shift.fixed)
    return [*found, refusal] if refusal else found


def _is_assumed(week: Week, refusal: Refusal, crew: Crew, day: date) -> bool:
    """Does the refusal rest on what nobody stated?"""
    facts = week.facts
    if refusal.rule is Rule.AWAY:
        return not crew.hours and not facts.is_away(crew, day)
    if refusal.rule is Rule.HOURS:
        return not crew.hours or not facts.are_ways_known(crew)
    if refusal.rule is Rule.BREAK:
        return facts.policy.pk is None
    if refusal.rule is Rule.VAN:
        return crew.cylinder_places is None
    if refusal.rule is Rule.IMPAIRED and refusal.order is not None:
        return week.tasks[refusal.order].system.building_id is None
    if refusal.rule is Rule.WINDOW and "last" in refusal.numbers:
        return not crew.hours or not facts.are_ways_known(crew)
    return False


def _too_near(week: Week, wish: Task, others: Sequence[Task]) -> list[Objection]:
    """On a day that broke the rules before, the way from and to the booking beside it."""
    day = wish.starts_at.astimezone(week.zone).date()
    for other in others:
        if other.starts_at.astimezone(week.zone).date() != day:
            continue
        way = timedelta(minutes=_minutes_between(week, wish, other))
        if other.ends_at + way > wish.starts_at and wish.ends_at + way > other.starts_at:
            text = gettext("{order} is {length} away, which is not left between them.").format(
                order=order_words(other), length=length_words(way.seconds // 60)
            )
            return [Objection(Rule.HOURS, text)]
    return []


def _minutes_between(week: Week, one: Task, two: Task) -> int:
    problem, facts = week.problem, week.facts
    ends = (problem.place.get(facts.place_id(task)) for task in (one, two))
    here, there = ends
    return 0 if here is None or there is None else problem.minutes[here][there]


def _impaired_by_others(week: Week, wish: Task, day: date) -> list[Objection]:
    """Bookings of others, or without a crew, that take a system of the same building out."""
    if not week.facts.kind_of(wish).impairs:
        return []
    begin = instant(day, 0, week.zone)
    system = wish.system
    rows = Task.objects.booked().filter(
        system__site=system.site_id,
        system__building=system.building_id,
        starts_at__gte=begin,
        starts_at__lt=begin + timedelta(days=1),
    )
    rows = rows.exclude(pk=wish.pk).exclude(pk__in=[task.pk for task in week.tasks])
    for other in rows.exclude(system=system).with_place():
        if week.facts.kind_of(other).impairs:
            text = gettext(
                "{order} and {other} would take two systems of one building out of service on "
                "{day}."
            ).format(order=order_words(wish), other=order_words(other), day=day_words(day))
            return [Objection(Rule.IMPAIRED, text, system.building_id is None)]
    return []
