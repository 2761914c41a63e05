"""One assessed case looked at closely: run by run, event by event, and what evidence changed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

import numpy as np

from registry.assess.books import Pipe
from registry.assess.cases import Case
from registry.assess.clock import moment
from registry.corrosion.assess import QUANTILES, Assessments, assess_one
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import EventCost, Option, event_costs, what_if
from registry.corrosion.details import Band, Fan, RunDetail, run_details, wall_fan
from registry.corrosion.evidence import weighted_quantiles
from registry.corrosion.inputs import IN_MODEL
from registry.corrosion.points import MeasuredPoint, NextLook, measured_points, next_look
from registry.corrosion.prior import prior_weights, theta_nodes
from registry.corrosion.where import WallPoint, wall_points

AHEAD_YR = 20.0
POINTS = 90
DOUBT = 3.0
"""Factor either way by which the share of systems with active other causes is not known."""
MOST_ACTIVE = 0.95


@dataclass(frozen=True, slots=True)
class EventLine:
    """What a stretch of the gas history that began at `at` cost; `record_id` began it."""

    record_id: int
    at: datetime
    cost: EventCost


@dataclass(frozen=True)
class Belief:
    """The system's own multiplier of every depth, before evidence and after."""

    theta: Sequence[float]
    prior: Sequence[float]
    posterior: Sequence[float]
    before: Band
    after: Band


@dataclass(frozen=True, slots=True)
class Measured:
    """A wall reading on a run, as the wall lost by then."""

    at: datetime
    lost_m: float
    error_m: float


class Detail:
    """Worked out as asked for: a page that shows only part of it pays only for that."""

    def __init__(self, case: Case):
        self.case = case
        self.input = case.input

    @cached_property
    def base(self) -> Assessments:
        return assess_one(self.input)

    @cached_property
    def runs(self) -> list[tuple[Pipe, RunDetail]]:
        """Most likely to leak first; runs outside the model last."""
        found = zip(self.case.book.runs, run_details(self.input, self.base), strict=True)
        return sorted(found, key=lambda row: (not row[1].in_model, -row[1].leak_probability_5yr))

    @property
    def covered(self) -> list[tuple[Pipe, RunDetail]]:
        return [row for row in self.runs if row[0].material in IN_MODEL]

    @cached_property
    def events(self) -> list[EventLine]:
        """Dearest first; what is only assumed is no event."""
        causes = {at: cause for at, cause in enumerate(self.case.gas.causes) if cause is not None}
        lines = [
            EventLine(causes[cost.span], moment(self.input.spans[cost.span].start_yr), cost)
            for cost in event_costs(self.input, list(causes), self.base)
        ]
        return sorted(lines, key=lambda line: -line.cost.wall_m)

    @cached_property
    def options(self) -> tuple[Option, ...]:
        return what_if(self.input, self.base)

    @cached_property
    def wall_points(self) -> list[tuple[Pipe, WallPoint]]:
        runs = self.case.book.runs
        return [(runs[point.run], point) for point in wall_points(self.input, self.base)]

    @cached_property
    def points(self) -> list[tuple[Pipe, MeasuredPoint]]:
        """Every wall reading with what follows from it, the one nearest to a leak first."""
        runs = self.case.book.runs
        found = measured_points(self.input, self.base)
        in_order = sorted(found, key=lambda point: (-point.leak_in_5_yr, point.left_m))
        return [(runs[point.reading.run], point) for point in in_order]

    @cached_property
    def next_look(self) -> NextLook:
        return next_look(self.input, self.base)

    @property
    def reinspect_at(self) -> datetime:
        return moment(self.input.now_yr + self.next_look.years)

    @cached_property
    def by_active_share(self) -> list[tuple[float, float]]:
        """Shares of systems with active attack of other causes that could as well be assumed, and
        the score with each: nobody has published a share with a method behind it."""
        given = self.input.assumptions
        held = float(np.asarray(given.active_share))
        shares = [min(held * times, MOST_ACTIVE) for times in (1 / DOUBT, DOUBT)]
        inputs = [
            replace(self.input, assumptions=given.with_overrides({"active_share": share}))
            for share in shares
        ]
        found = [float(assess_one(one).score[0]) for one in inputs]
        return list(zip(shares, found, strict=True))

    @cached_property
    def belief(self) -> Belief:
        batch = batch_from([self.input])
        theta, prior = theta_nodes(batch), prior_weights(batch)
        before = weighted_quantiles(prior, theta, QUANTILES)[0]
        return Belief(
            theta=theta[0].tolist(),
            prior=prior[0].tolist(),
            posterior=self.base.weights[0].tolist(),
            before=Band(*(float(value) for value in before)),
            after=Band(*(float(value) for value in self.base.theta[0])),
        )

    def fan(self, run: int) -> Fan:
        since = self.input.runs[run].installed_yr
        times = np.linspace(since, self.input.now_yr + AHEAD_YR, POINTS)
        times = np.unique(np.append(times, self.input.now_yr))
        return wall_fan(self.input, run, times, self.base)

    def measured(self, run: int) -> list[Measured]:
        usual = float(self.input.assumptions.gauge_error_m)
        wall_m = self.input.runs[run].wall_m
        return [
            Measured(
                moment(one.at_yr),
                max(wall_m - one.remaining_m, 0.0),
                usual if one.error_m is None else one.error_m,
            )
            for one in self.input.walls
            if one.run == run
        ]
