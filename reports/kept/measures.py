"""What the events of a period cost, and what would help most."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.assess import Case
from registry.assess.clock import moment
from registry.corrosion.assess import assess_one
from registry.corrosion.decisions import Option, event_costs, what_if
from registry.models import Record, System, User
from reports.kept.standing import Standing

LEAST_UM, LEAST_POINTS = 0.05, 0.05
MOST_SYSTEMS = 300
"""Beyond the worst of these nobody reads what would help."""


@dataclass(frozen=True)
class EventCostRow:
    standing: Standing
    record: Record
    at: datetime
    wall_um: float
    days: float | None
    points: float

    @property
    def system(self) -> System:
        return self.standing.system


def event_cost_rows(
    rows: Sequence[Standing], *, since: datetime, reader: User | None
) -> list[EventCostRow]:
    """Of what happened since then and the reader may read of (None: whoever may read all), the
    dearest first; what cost or saved nothing that could be told is left out."""
    found = [line for row in rows if row.case for line in _costs(row, row.case, since)]
    keys = [pk for _, pk, *_ in found]
    readable = Record.objects.visible_to(reader) if reader else Record.objects.all()
    records = readable.in_bulk(keys) if keys else {}
    told = [EventCostRow(one, records[pk], *rest) for one, pk, *rest in found if pk in records]
    return sorted(told, key=lambda row: (-row.points, -row.wall_um, row.system.tag))


def _costs(row: Standing, case: Case, since: datetime) -> Iterator[tuple]:
    chosen = [
        at
        for at, cause in enumerate(case.gas.causes)
        if cause is not None and moment(case.input.spans[at].start_yr) >= since
    ]
    for cost in event_costs(case.input, chosen, assess_one(case.input)) if chosen else ():
        wall_um = cost.wall_m * 1e6
        if wall_um >= LEAST_UM or abs(cost.score_points) >= LEAST_POINTS:
            at = moment(case.input.spans[cost.span].start_yr)
            cause = case.gas.causes[cost.span]
            yield row, cause, at, wall_um, cost.days_of_life, cost.score_points


@dataclass(frozen=True)
class Help:
    """One measure at one system."""

    standing: Standing
    option: Option

    @property
    def system(self) -> System:
        return self.standing.system


def helps(rows: Sequence[Standing]) -> list[Help]:
    """All that would help each of the worst systems, the most points first."""
    scored = [row for row in rows if row.case and row.score is not None]
    worst = sorted(scored, key=lambda row: -(row.score or 0.0))[:MOST_SYSTEMS]
    found = [
        Help(row, option)
        for row in worst
        if row.case
        for option in what_if(row.case.input)
        if option.points >= LEAST_POINTS
    ]
    return sorted(found, key=lambda one: (-one.option.points, one.system.tag, one.option.code))
