"""The week of an organisation as its page shows it: crews by days to scale, and the plan beside."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext

from registry.models import Organisation
from registry.words.spoken import Number, written
from scheduling.models import Crew, Task, WeekPlan, WorkState
from scheduling.orders.due_words import DueWords, due_words
from scheduling.planning.book import (
    MOST_LISTED,
    MOST_PLANNED,
    Week,
    bookings,
    clock_of,
    minute_on,
    order_id,
    read,
    to_place,
)
from scheduling.planning.facts import crews_of, hours_of
from scheduling.planning.gas import whole_cylinders
from scheduling.planning.weeks.accepting import Proposal, proposals
from scheduling.planning.words import length_words, points_words

LEAST_WORDS = 5  # steps that a line of words needs
STEP = 5  # minutes that a block's height is rounded to
MOST_STEPS = 192  # as many as the style sheet knows: sixteen hours
SIMPLE_CREWS, SIMPLE_ORDERS = 1, 8


@dataclass(frozen=True)
class Block:
    """A piece of a crew's day; `size` is its length in steps of five minutes."""

    kind: str  # "way", "wait" or "job"
    begins: int
    minutes: int
    task: Task | None = None
    due: DueWords | None = None
    state: str = ""  # "booked", "proposed", "started"
    was: str = ""  # the day that the customer was told, where the plan would change it
    may_move: bool = False

    @property
    def size(self) -> int:
        """Rounded at both ends, so that blocks one after another stay to scale."""
        ends = round((self.begins + self.minutes) / STEP)
        return min(MOST_STEPS, max(0, ends - round(self.begins / STEP)))

    @property
    def is_short(self) -> bool:
        """Too low for words on the board."""
        return self.size < LEAST_WORDS

    @property
    def length(self) -> str:
        return length_words(self.minutes)

    @property
    def hours(self) -> str:
        return f"{_clock(self.begins)}-{_clock(self.begins + self.minutes)}"


@dataclass
class Lane:
    crew: Crew | None
    day: date
    blocks: list[Block] = field(default_factory=list)
    road: int = 0
    cylinders: int = 0
    places: int = 0
    is_away: bool = False
    home: int | None = None
    board_begins: int = 0

    @property
    def lead(self) -> int:
        """Steps from the top of the board to the first block."""
        first = self.blocks[0].begins if self.blocks else self.board_begins
        return max(0, min(MOST_STEPS, round(first / STEP) - round(self.board_begins / STEP)))

    @property
    def road_words(self) -> str:
        return length_words(self.road)

    @property
    def home_words(self) -> str:
        return "" if self.home is None else _clock(self.home)

    @property
    def jobs(self) -> list[Block]:
        return [block for block in self.blocks if block.kind == "job"]

    @property
    def marks(self) -> list[bool]:
        """A mark a place on the van, filled where a cylinder is spoken for."""
        return [number < self.cylinders for number in range(max(self.places, self.cylinders))]

    @property
    def is_over(self) -> bool:
        return self.cylinders > self.places


@dataclass(frozen=True)
class Row:
    crew: Crew
    lanes: Sequence[Lane]


@dataclass(frozen=True)
class LeftOutRow:
    task: Task
    due: DueWords
    why: str
    crews: Sequence[Sequence[str]] = ()
    lets: Sequence[tuple[str, str]] = ()
    swap: str = ""


@dataclass
class Board:
    organisation: Organisation
    days: Sequence[date]
    rows: Sequence[Row]
    begins: int
    ends: int
    proposed: Sequence[Proposal]
    left_out: Sequence[LeftOutRow]
    waiting: Sequence[tuple[Task, DueWords]]
    plan: WeekPlan | None
    is_stale: bool
    without_crew: Sequence[Task]
    not_listed: int = 0  # orders that wait, due later than those listed

    @property
    def hours(self) -> list[int]:
        return list(range(self.begins // 60, self.ends // 60 + 1))

    @property
    def is_simple(self) -> bool:
        """One crew and a handful of orders: no arithmetic is shown."""
        jobs = sum(len(lane.jobs) for row in self.rows for lane in row.lanes)
        return len(self.rows) <= SIMPLE_CREWS and jobs + len(self.left_out) <= SIMPLE_ORDERS

    @property
    def to_tell(self) -> list[Proposal]:
        return [one for one in self.proposed if one.is_move]

    @property
    def document(self) -> Mapping[str, Any]:
        return self.plan.document if self.plan else {}

    @property
    def gap(self) -> str:
        """How good the plan is, in one line."""
        if self.plan is None or self.plan.value is None:
            return ""
        value, bound = self.plan.value, self.plan.bound
        saves = gettext("This plan saves {points} of waiting, ways and overtime paid.").format(
            points=points_words(value)
        )
        if self.document.get("swapped"):
            return gettext("You changed this plan, so how near it is to the best is not known.")
        if bound is None:
            return f"{saves} " + gettext("How near it is to the best is not known yet.")
        if bound - value < 1:
            return f"{saves} " + gettext("No plan of these orders saves more: proven.")
        return f"{saves} " + gettext(
            "No plan of these orders can save more than {bound}: at most {gap:.1f} % is left to "
            "gain."
        ).format(bound=points_words(bound), gap=Number(100 * (bound - value) / max(1, abs(value))))

    @property
    def share(self) -> int | None:
        """Of the bound that the plan reaches, in hundredths, for the bar."""
        if self.plan is None or not self.plan.bound or self.plan.value is None:
            return None
        return max(0, min(100, round(100 * self.plan.value / self.plan.bound)))


def board_of(
    organisation: Organisation,
    first_on: date,
    *,
    now: datetime,
    workable: frozenset[int] | set[int] = frozenset(),
    crew: Crew | None = None,
) -> Board:
    """`workable`: keys of what the person may move; `crew`: one alone."""
    week_days = [first_on + timedelta(days=number) for number in range(7)]
    plan = WeekPlan.objects.filter(organisation=organisation, first_on=first_on).first()
    found = proposals(plan) if plan else []
    some = Task.objects.open().filter(assigned_to=organisation).only("time_zone")[:300]
    zone = clock_of(organisation, some)
    booked = bookings(organisation, week_days[0], week_days[-1], zone)
    every = to_place(organisation, week_days[-1], zone)
    waiting = list(every[:MOST_LISTED])
    beyond = {task.pk for task in waiting[MOST_PLANNED:]}
    shown = {task.pk: task for task in (*booked, *(one.task for one in found), *waiting)}
    crews = _crews(organisation, booked)
    week = read(
        organisation, week_days, zone=zone, now=now, fixed=[], free=list(shown.values()),
        crews=crews,
    )  # fmt: skip
    maker = _Maker(week, now, set(workable))
    proposed = {one.task.pk: one for one in found}
    stays = [task for task in booked if task.pk not in proposed]
    lanes = {(row.pk, day): maker.lane(row, day) for row in crews for day in week_days}
    for task in stays:
        assert task.crew_id is not None  # bookings() reads those with one
        maker.add(lanes[task.crew_id, maker.day(task.starts_at)], task)
    for one in found:
        if (one.crew.pk, maker.day(one.starts_at)) in lanes:
            maker.propose(lanes[one.crew.pk, maker.day(one.starts_at)], one)
    for lane in lanes.values():
        maker.finish(lane)
    days = [day for day in week_days if day.weekday() < 5 or _is_used(lanes, crews, day)]
    rows = [
        Row(row, [lanes[row.pk, day] for day in days])
        for row in crews
        if crew is None or row.pk == crew.pk
    ]
    left_out = _left_out(plan, shown, now)
    listed = {row.task.pk for row in left_out} | set(proposed)
    begins, ends = _span(rows)
    for lane in lanes.values():
        lane.board_begins = begins
    return Board(
        organisation=organisation,
        days=days,
        rows=rows,
        begins=begins,
        ends=ends,
        proposed=found,
        left_out=left_out,
        waiting=[(task, due_words(task, now)) for task in waiting if task.pk not in listed],
        plan=plan,
        is_stale=_is_stale(plan, {pk: task for pk, task in shown.items() if pk not in beyond}),
        without_crew=_without_crew(organisation, week_days, zone),
        not_listed=max(0, every.count() - len(waiting)),
    )


def _is_used(lanes: Mapping[tuple[int, date], Lane], crews: Iterable[Crew], day: date) -> bool:
    """Does anybody work on a day of the weekend?"""
    return any(lanes[row.pk, day].blocks or not lanes[row.pk, day].is_away for row in crews)


def _crews(organisation: Organisation, booked: Iterable[Task]) -> list[Crew]:
    """Those that go out, and those that are booked although they no longer do."""
    crews = crews_of(organisation)
    known = {crew.pk for crew in crews}
    return crews + sorted(
        {task.crew for task in booked if task.crew and task.crew_id not in known},
        key=lambda crew: crew.name,
    )


def _without_crew(organisation: Organisation, days: Sequence[date], zone) -> list[Task]:
    from scheduling.orders.day import between_days

    rows = Task.objects.booked().filter(assigned_to=organisation, crew__isnull=True)
    return between_days(rows, days[0], days[-1])


def _left_out(plan: WeekPlan | None, shown: Mapping[int, Task], now: datetime) -> list[LeftOutRow]:
    if plan is None:
        return []
    tasks = {order_id(task): task for task in shown.values()}
    rows = []
    for row in plan.document.get("left_out", []):
        task = tasks.get(row["order"])
        if task is None or task.work_state == WorkState.STARTED:
            continue  # withdrawn, done or begun since
        if task.is_booked and task.turn != plan.document["turns"].get(row["order"]):
            continue
        swap = row.get("swap")
        rows.append(
            LeftOutRow(
                task=task,
                due=due_words(task, now),
                why=row["why"],
                crews=row["crews"],
                lets=[(let["words"], _price(let["costs"])) for let in row["lets"]],
                swap=_price(swap["costs"]) if swap else "",
            )
        )
    return rows


def _price(costs: int | None) -> str:
    if costs is None:
        return ""
    if not costs:
        return gettext("at no cost")
    return gettext("costs {points}").format(points=points_words(costs))


def _is_stale(plan: WeekPlan | None, shown: Mapping[int, Task]) -> bool:
    """Was something booked or taken back since, that the plan knew otherwise?"""
    if plan is None or plan.is_open or not plan.document.get("turns"):
        return False
    turns = plan.document["turns"]
    now = {order_id(task): task.turn for task in shown.values()}
    booked_by_plan = {order_id(task) for task in shown.values() if task.is_booked}
    return any(
        now[order] != turns[order] and order not in booked_by_plan
        for order in now
        if order in turns
    ) or any(order not in turns and order not in booked_by_plan for order in now)


def _span(rows: Iterable[Row]) -> tuple[int, int]:
    """Whole hours that hold every block, eight to five at least."""
    blocks = [block for row in rows for lane in row.lanes for block in lane.blocks]
    begins = min([480, *(block.begins for block in blocks)]) // 60 * 60
    ends = max([1020, *(block.begins + block.minutes for block in blocks)])
    return begins, -(-ends // 60) * 60


class _Maker:
    def __init__(self, week: Week, now: datetime, workable: set[int]) -> None:
        self.week, self.now, self.workable = week, now, workable
        self.parts: dict[tuple[int, date], int] = {}

    def day(self, when: datetime) -> date:
        return when.astimezone(self.week.zone).date()

    def lane(self, crew: Crew, day: date) -> Lane:
        facts = self.week.facts
        is_away = facts.is_away(crew, day) or day.weekday() not in hours_of(crew)
        return Lane(crew, day, places=facts.van_places(crew), is_away=is_away)

    def add(self, lane: Lane, task: Task) -> None:
        state = "started" if task.work_state == WorkState.STARTED else "booked"
        self._job(lane, task, task.starts_at, task.ends_at, state)

    def propose(self, lane: Lane, one: Proposal) -> None:
        was = (
            written(one.task.starts_at.astimezone(self.week.zone), "%a %-d") if one.is_move else ""
        )
        self._job(lane, one.task, one.starts_at, one.ends_at, "proposed", was)

    def _job(
        self, lane: Lane, task: Task, starts: datetime, ends: datetime, state: str, was: str = ""
    ) -> None:
        begins = minute_on(starts, lane.day, self.week.zone)
        minutes = max(1, round((ends - starts).total_seconds() / 60))
        due = due_words(task, self.now)
        may_move = task.pk in self.workable and state != "started"
        lane.blocks.append(Block("job", begins, minutes, task, due, state, was, may_move))
        key = (lane.crew.pk if lane.crew else 0, lane.day)
        if task.pk in self.week.gas:
            self.parts[key] = self.parts.get(key, 0) + self.week.gas[task.pk].parts

    def finish(self, lane: Lane) -> None:
        """Put the ways and waits between the jobs."""
        assert lane.crew is not None
        lane.cylinders = whole_cylinders(self.parts.get((lane.crew.pk, lane.day), 0))
        jobs = sorted(
            lane.blocks, key=lambda block: (block.begins, block.task.pk if block.task else 0)
        )
        if not jobs:
            return
        problem, facts = self.week.problem, self.week.facts
        home = problem.place[facts.depot_id(lane.crew)]
        here, free = home, None
        blocks: list[Block] = []
        for job in jobs:
            assert job.task is not None
            there = problem.place[facts.place_id(job.task)]
            way = problem.minutes[here][there]
            start = job.begins - way if free is None else max(free, 0)
            lane.road += way
            if way:
                blocks.append(Block("way", start, way))
            if job.begins - start - way > 0:
                blocks.append(Block("wait", start + way, job.begins - start - way))
            blocks.append(job)
            here, free = there, job.begins + job.minutes
        back = problem.minutes[here][home]
        lane.road += back
        assert free is not None
        if back:
            blocks.append(Block("way", free, back))
        lane.home = free + back
        lane.blocks = blocks


def _clock(minute: int) -> str:
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}"
