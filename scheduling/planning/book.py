"""The book as an instance of the crew plan: who works when, where what lies, what each order takes.

Times of the instance are minutes after midnight on the clock of the board, which is that of most of
its sites; windows of sites with another clock are carried over day by day. An instance from the
book never spans more than seven days, so that a weekday names one date.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from registry.models import Assessment, Organisation
from scheduling.crews import (
    Board,
    Building,
    Crew,
    Day,
    Fixed,
    Instance,
    Order,
    Pause,
    Problem,
    Refusal,
    Travel,
    walk,
)
from scheduling.crews import Depot as PlanDepot
from scheduling.crews.instance import Span
from scheduling.models import Crew as CrewRow
from scheduling.models import PlanningPolicy, Task, WorkState
from scheduling.models.querysets import TaskQuerySet
from scheduling.planning.facts import Facts, hours_of
from scheduling.planning.gas import PARTS, Gas, gas_for
from scheduling.planning.said.hours import MIDNIGHT, minute_of
from scheduling.rules.slots import DAY_BEGINS

MOST_DAYS = 7
MOST_LISTED = 300  # orders that wait for a time, on the page of a week
MOST_PLANNED = 100  # of them in one plan: those due soonest; how many more wait is said
FAR = timedelta(hours=15)  # no zone is further from universal time
PLENTY = 1_000_000  # tenths of a cylinder, where nobody counted
DROPPED = 1_000_000  # what is booked moves at most; a plan does not take it off the book
NEVER_LATE = 3 * MIDNIGHT
LEFT_OUT_AFTER = 7  # days after the last one


@dataclass(frozen=True)
class Week:
    """Some days of one organisation as a problem, with the rows behind its numbers."""

    organisation: Organisation
    problem: Problem
    days: tuple[date, ...]
    zone: ZoneInfo
    tasks: Sequence[Task]  # by number of the order
    crews: Sequence[CrewRow]  # by number of the crew
    facts: Facts
    gas: Mapping[int, Gas]  # by key of the task
    set_aside: Mapping[tuple[int, int], str] = field(default_factory=dict)
    """Crews' days left alone, by crew and day, with why."""
    later: int = 0  # orders that wait and were not looked at

    @property
    def kept_worth(self) -> int:
        """What every plan is worth for not dropping bookings; no part of what it saves."""
        return sum(order.left_out_cost for order in self.problem.orders)

    def number(self, task: Task) -> int:
        return self.problem.order_number[order_id(task)]

    def crew_number(self, crew: CrewRow) -> int | None:
        return next((n for n, row in enumerate(self.crews) if row.pk == crew.pk), None)

    def instant(self, day: int, minute: int) -> datetime:
        return instant(self.days[day], minute, self.zone)


def order_id(task: Task) -> str:
    return f"order {task.pk}"


def crew_id(crew: CrewRow) -> str:
    return f"crew {crew.pk}"


def instant(day: date, minute: int, zone: ZoneInfo) -> datetime:
    """The moment that a clock there shows so many minutes after midnight."""
    whole, rest = divmod(minute, MIDNIGHT)
    at = time(rest // 60, rest % 60)
    return datetime.combine(day + timedelta(days=whole), at, tzinfo=zone).astimezone(UTC)


def minute_on(when: datetime, day: date, zone: ZoneInfo) -> int:
    """What a clock there shows, in minutes after midnight of the day."""
    local = when.astimezone(zone)
    return (local.date() - day).days * MIDNIGHT + minute_of(local.time())


def clock_of(organisation: Organisation, tasks: Iterable[Task]) -> ZoneInfo:
    """Where most of the work lies."""
    zones = Counter(task.time_zone for task in tasks)
    if not zones:
        return ZoneInfo(organisation.usual_time_zone)
    return ZoneInfo(min(zones, key=lambda name: (-zones[name], name)))


def bookings(organisation: Organisation, first: date, last: date, zone: ZoneInfo) -> list[Task]:
    """What the organisation has agreed to on these days and is still to be done."""
    begin = datetime.combine(first, time(), tzinfo=UTC) - FAR
    end = datetime.combine(last, time(), tzinfo=UTC) + timedelta(days=1) + FAR
    rows = Task.objects.booked().filter(assigned_to=organisation, crew__isnull=False)
    rows = rows.filter(starts_at__gte=begin, starts_at__lt=end).with_place()
    found = rows.select_related("system__site__owner").order_by("starts_at", "pk")
    return [task for task in found if first <= task.starts_at.astimezone(zone).date() <= last]


def to_place(organisation: Organisation, last: date, zone: ZoneInfo) -> TaskQuerySet:
    """What has no time yet and may be done by the last day, the soonest due first."""
    end = instant(last, MIDNIGHT, zone)
    rows = Task.objects.open().filter(assigned_to=organisation)
    rows = rows.filter(work_state__in=[WorkState.OFFERED, WorkState.ACCEPTED])
    rows = rows.exclude(opens_at__gte=end).with_place().select_related("system__site__owner")
    return rows.order_by("due_at", "pk")


def read(
    organisation: Organisation,
    days: Sequence[date],
    *,
    zone: ZoneInfo,
    now: datetime,
    fixed: Sequence[Task],
    free: Sequence[Task],
    told: Sequence[Task] = (),
    crews: Sequence[CrewRow] | None = None,
    asked: Task | None = None,
    minutes: int | None = None,
    sets_out: Mapping[int, int] | None = None,
) -> Week:
    """`fixed` stay as they are booked, `told` have a day that costs to change, `free` have none.

    `asked` is one more with the time it would have, whether or not it can be kept. `minutes`: what
    each of the free takes; `sets_out`: by key of the crew, when it leaves on the first day, unless
    it is booked for earlier.
    """
    if len(days) > MOST_DAYS:
        raise ValueError(f"days: {len(days)} given, {MOST_DAYS} at most")
    tasks = [*fixed, *told, *free, *([asked] if asked else [])]
    facts = Facts.of(organisation, tasks, crews)
    gas = gas_for(tasks, now, cylinder=facts.policy.cylinder)
    build = _Build(organisation, tuple(days), zone, facts, gas, minutes, sets_out or {})
    kept, set_aside = build.that_can_stand(fixed)
    delays = _delays(tasks)
    orders = [build.order(task, delays, fixed=True) for task in kept]
    orders += [build.order(task, delays, told=True) for task in told]
    orders += [build.order(task, delays) for task in free]
    rows = [*kept, *told, *free]
    left_alone = set_aside
    if asked:
        orders.append(build.order(asked, delays, fixed=True))
        rows.append(asked)
        left_alone = {key: why for key, why in set_aside.items() if key[1]}  # its day is asked for
    problem = Problem(build.instance(orders, left_alone))
    return Week(organisation, problem, tuple(days), zone, rows, facts.crews, facts, gas, set_aside)


def _delays(tasks: Sequence[Task]) -> dict[int, float]:
    """Score points a week of waiting, by system; only where the last assessment says so."""
    keys = {task.system_id for task in tasks if task.work.is_about_gas or task.work.is_inerting_run}
    latest = Assessment.objects.latest().filter(system__in=keys)
    rows = latest.filter(delay_points_per_week__isnull=False)
    return dict(rows.values_list("system", "delay_points_per_week"))


def _nights(orders: Sequence[Order]) -> set[tuple[str, int]]:
    return {
        (one.building, one.fixed.day)
        for one in orders
        if one.fixed and one.fixed.start + one.minutes > MIDNIGHT
    }


class _Build:
    def __init__(
        self,
        organisation: Organisation,
        days: tuple[date, ...],
        zone: ZoneInfo,
        facts: Facts,
        gas: Mapping[int, Gas],
        minutes: int | None,
        sets_out: Mapping[int, int],
    ) -> None:
        self.organisation, self.days, self.zone = organisation, days, zone
        self.facts, self.gas = facts, gas
        self.minutes, self.sets_out = minutes, sets_out

    def order(
        self, task: Task, delays: Mapping[int, float], *, fixed: bool = False, told: bool = False
    ) -> Order:
        kind = self.facts.kind_of(task)
        has_time = fixed or told
        minutes = _length(task) if has_time else self.minutes or self.facts.minutes_of(task)
        rate = delays.get(task.system_id)
        day = self._day(task) if has_time else None
        latest = (task.due_on - self.days[0]).days
        return Order(
            id=order_id(task),
            building=self.facts.place_id(task),
            kind=task.kind,
            minutes=minutes,
            skills=self.facts.skills_of(task),
            cylinders=self.gas[task.pk].parts if task.pk in self.gas else 0,
            impairs=kind.impairs,
            delay_rate=kind.delay if rate is None else max(1, round(rate * 1000 / 7)),
            delay_growth=0,
            earliest=self._earliest(task),
            latest=latest,
            late_cost=kind.late,
            told=day,
            move_cost=self.facts.policy.move_cost if told else 0,
            fixed=self._fixed(task) if fixed else None,
            left_out_cost=DROPPED if told else 0,
        )

    def _earliest(self, task: Task) -> int:
        """The first day on which work counts: the whole of it must lie after the opening."""
        if task.opens_at is None or task.is_booked:
            return 0
        opens = task.opens_at.astimezone(self.zone)
        late = opens.time() > DAY_BEGINS  # what opens during the day counts from the next one
        return (opens.date() - self.days[0]).days + int(late)

    def _day(self, task: Task) -> int:
        return self.days.index(task.starts_at.astimezone(self.zone).date())

    def _fixed(self, task: Task) -> Fixed:
        day = self._day(task)
        start = minute_on(task.starts_at, self.days[day], self.zone)
        assert task.crew is not None  # bookings() reads those with one
        return Fixed(crew_id(task.crew), day, start)

    def that_can_stand(
        self, fixed: Sequence[Task]
    ) -> tuple[list[Task], dict[tuple[int, int], str]]:
        """The bookings of the crews' days that can be kept; the other days are left alone.

        A booking made by hand may break a rule on purpose: then nothing is planned around it.
        """
        by_day: dict[tuple[int, int], list[Task]] = {}
        names = {crew.pk: number for number, crew in enumerate(self.facts.crews)}
        for task in fixed:
            if task.crew_id in names:
                by_day.setdefault((names[task.crew_id], self._day(task)), []).append(task)
        kept, aside = [], {}
        for (crew, day), tasks in sorted(by_day.items()):
            orders = [self.order(task, {}, fixed=True) for task in tasks]
            problem = Problem(self.instance(orders, {}))
            refusal = _day_refusal(problem, crew, day)
            if refusal:
                aside[crew, day] = refusal
            else:
                kept += tasks
        together = self._that_stand_together(kept, aside)
        return [task for task in kept if task in together], aside

    def _that_stand_together(
        self, tasks: Sequence[Task], aside: dict[tuple[int, int], str]
    ) -> list[Task]:
        """The same of what crews share: a building's one system a day, and cylinders."""
        orders = [self.order(task, {}, fixed=True) for task in tasks]
        problem = Problem(self.instance(orders, aside))
        board, stands = Board(problem), []
        for shift in problem.shifts:
            if not shift.fixed:
                continue
            if refusal := board.shared_refusal(shift, shift.fixed):
                aside[shift.crew, shift.day] = str(refusal.rule)
            else:
                board.put(shift, shift.fixed)
                stands += [tasks[order] for order in shift.fixed]
        return stands

    def instance(self, orders: Sequence[Order], aside: Mapping[tuple[int, int], str]) -> Instance:
        policy = self.facts.policy
        return Instance(
            name=f"{self.organisation.pk} from {self.days[0]}",
            days=tuple(
                Day(day.isoformat(), (day - self.days[0]).days, day.weekday()) for day in self.days
            ),
            left_out_offset=(self.days[-1] - self.days[0]).days + LEFT_OUT_AFTER,
            travel=Travel(policy.metres_per_minute, policy.detour_percent, policy.drive_cost),
            pause=_pause(policy),
            restock_minutes=policy.restock_minutes,
            depots=tuple(
                PlanDepot(one.id, one.x, one.y, self._stock(one), self._deliveries(one))
                for one in self.facts.depots
            ),
            buildings=tuple(
                self._building(one, _nights(orders)) for one in self.facts.places_of(orders)
            ),
            crews=tuple(
                self._crew(n, row, aside, orders) for n, row in enumerate(self.facts.crews)
            ),
            orders=tuple(orders),
        )

    def _stock(self, depot) -> int:
        stock = self.facts.stock_on(depot, self.days[0], self.zone)
        return PLENTY if stock is None else max(0, stock)

    def _deliveries(self, depot) -> dict[int, int]:
        return {
            number: depot.deliveries[day] * PARTS
            for number, day in enumerate(self.days)
            if day in depot.deliveries
        }

    def _building(self, place, nights: Collection[tuple[str, int]]) -> Building:
        """`nights`: buildings and days on which somebody is booked there past midnight."""
        windows = {
            day.weekday(): spans
            for number, day in enumerate(self.days)
            if (
                spans := self.facts.windows_on(
                    place, day, self.zone, into_the_next=(place.id, number) in nights
                )
            )
        }
        return Building(place.id, place.x, place.y, windows, place.approach, place.site)

    def _crew(
        self,
        number: int,
        row: CrewRow,
        aside: Mapping[tuple[int, int], str],
        orders: Sequence[Order],
    ) -> Crew:
        policy, hours = self.facts.policy, hours_of(row)
        away = {
            day
            for day, on in enumerate(self.days)
            if (number, day) in aside or self.facts.is_away(row, on)
        }
        return Crew(
            id=crew_id(row),
            depot=self.facts.depot_id(row),
            skills=self.facts.skills(row),
            hours=self._with_start(
                row, {day: (spans[0][0], spans[-1][1]) for day, spans in hours.items()}, orders
            ),
            absent=frozenset(away),
            cylinders=self.facts.van_places(row) * PARTS,
            overtime_minutes=self.facts.overtime_of(row),
            overtime_cost=policy.overtime_cost,
        )

    def _with_start(
        self, row: CrewRow, hours: dict[int, Span], orders: Sequence[Order]
    ) -> dict[int, Span]:
        leaves, day = self.sets_out.get(row.pk), self.days[0].weekday()
        if leaves is None or day not in hours:
            return hours
        booked = [
            order.fixed.start
            for order in orders
            if order.fixed and (order.fixed.crew, order.fixed.day) == (crew_id(row), 0)
        ]
        if min(booked, default=leaves) < leaves:
            return hours
        begins, ends = hours[day]
        later = max(begins, leaves)
        rest = {other: span for other, span in hours.items() if other != day}
        return rest | {day: (later, ends)} if later < ends else rest


def _pause(policy: PlanningPolicy) -> Pause:
    """Without minutes there is no break, so nobody has to take it in time."""
    if not policy.break_minutes:
        return Pause(0, 0, NEVER_LATE)
    return Pause(policy.break_minutes, minute_of(policy.break_from), minute_of(policy.break_to))


def _length(task: Task) -> int:
    return max(1, round((task.ends_at - task.starts_at).total_seconds() / 60))


def _day_refusal(problem: Problem, crew: int, day: int) -> str:
    shift = problem.shift_at.get((crew, day))
    if shift is None:
        return "away"
    found = walk(problem, shift, shift.fixed)
    return str(found.rule) if isinstance(found, Refusal) else ""
