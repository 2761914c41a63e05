"""Everything the risk page of one system shows: read once, worked out by the assessment."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any

from registry.assess import (
    Assessed,
    Case,
    assess_cases,
    case_of,
    day_of,
    end_of,
    overrides_of,
    read_books,
)
from registry.assess.clock import moment
from registry.assess.details import Detail
from registry.models import Assessment, PipeRun, Record, System
from reports import charts
from reports.charts import NARROW, WIDE, BeliefChart, FanChart

YEAR = timedelta(days=365)
MM_PER_M = 1000.0
INCHES_PER_MM = 1 / 25.4
LEAST_UM, LEAST_POINTS = 0.05, 0.05


@dataclass(frozen=True)
class RunRow:
    run: PipeRun
    label: str
    in_model: bool
    loss_um: tuple[float, float, float]
    deepest_um: tuple[float, float, float]
    leak_in_5_yr: float
    left_mm: float


@dataclass(frozen=True)
class EventRow:
    record: Record
    at: datetime
    wall_um: float
    run: str
    days: float | None
    points: float

    @property
    def is_telling(self) -> bool:
        return self.wall_um >= LEAST_UM or abs(self.points) >= LEAST_POINTS


@dataclass(frozen=True)
class Picture:
    """A sentence that says what it shows, the drawing twice, and its numbers."""

    sentence: str
    wide: str
    narrow: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]


class RiskPage:
    """Worked out for the day of the stored assessment, so that page and store agree."""

    def __init__(self, system: System, *, units: str, now: datetime, run_pk: int | None = None):
        self.system, self.units = system, units
        self.stored = Assessment.objects.latest().filter(system=system).first()
        self.day: date = self.stored.as_of if self.stored else day_of(now)
        self.case: Case | None = case_of(read_books([system.pk], end_of(self.day))[0])
        self.run_pk = run_pk

    @property
    def is_assessed(self) -> bool:
        return self.case is not None

    @cached_property
    def assessed(self) -> Assessed:
        return assess_cases([self.case])[0]

    @cached_property
    def row(self) -> Assessment:
        """The stored assessment while it is of these facts; looking at a page stores nothing."""
        if self.stored and self.stored.digest == self.case.digest:
            return self.stored
        return Assessment(system=self.system, as_of=self.day, **self.assessed.values)

    @cached_property
    def detail(self) -> Detail:
        return Detail(self.case)

    @property
    def is_ledger(self) -> bool:
        return self.row.basis == Assessment.Basis.LEDGER

    @cached_property
    def year_ago(self) -> Assessment | None:
        earlier = self.system.assessments.filter(as_of__lte=self.day - YEAR, score__isnull=False)
        return earlier.order_by("-as_of", "-pk").first()

    @cached_property
    def trend(self) -> float | None:
        return None if self.year_ago is None else self.row.score - self.year_ago.score

    @property
    def overrides(self) -> dict[str, Record]:
        return overrides_of(self.case.book)

    @property
    def drivers(self) -> list[dict[str, Any]]:
        return drivers(self.row)

    @property
    def evidence_reason(self) -> dict[str, Any] | None:
        return next((one for one in self.row.reasons if one["code"] == "evidence"), None)

    @cached_property
    def runs(self) -> list[RunRow]:
        return [
            RunRow(
                run=run,
                label=self.labels[run.pk],
                in_model=detail.in_model,
                loss_um=_um(detail.loss_m),
                deepest_um=_um(detail.deepest_m),
                leak_in_5_yr=detail.leak_probability_5yr,
                left_mm=detail.wall_left_m * MM_PER_M,
            )
            for run, detail in self.detail.runs
        ]

    @property
    def has_outside(self) -> bool:
        return any(not row.in_model for row in self.runs)

    @cached_property
    def labels(self) -> dict[int, str]:
        return run_labels(self.case.book.runs)

    @cached_property
    def chosen(self) -> RunRow:
        """The run the fan shows: the one asked for, else the one most likely to leak."""
        covered = [row for row in self.runs if row.in_model]
        return next((row for row in covered if row.run.pk == self.run_pk), covered[0])

    @cached_property
    def events(self) -> list[EventRow]:
        lines = self.detail.events
        records = Record.objects.in_bulk([line.record_id for line in lines])
        runs = self.case.book.runs
        rows = [
            EventRow(
                record=records[line.record_id],
                at=line.at,
                wall_um=line.cost.wall_m * 1e6,
                run=self.labels[runs[line.cost.run].pk],
                days=line.cost.days_of_life,
                points=line.cost.score_points,
            )
            for line in lines
        ]
        return [row for row in rows if row.is_telling]

    @cached_property
    def evidence(self) -> list[tuple[Record, str, str]]:
        """Each reading or leak, the run it was taken for, and why it was not used if so."""
        judged = self.case.evidence.judged
        records = Record.objects.in_bulk([one.record_id for one in judged])
        runs = self.case.book.runs
        return [
            (
                records[one.record_id],
                self.labels[runs[one.run].pk] if one.run is not None else "run not known",
                one.why_not,
            )
            for one in judged
        ]

    @property
    def wall_points(self) -> list[dict[str, Any]]:
        return [
            {"label": self.labels[run.pk], "clock": _clock(point.clock), "text": point.text}
            for run, point in self.detail.wall_points
        ]

    @cached_property
    def fan(self) -> Picture:
        chart = self._fan_chart()
        return Picture(
            sentence=_fan_sentence(self.chosen.label, chart),
            wide=charts.themed_svg(charts.fan_spec, chart, WIDE),
            narrow=charts.themed_svg(charts.fan_spec, chart, NARROW),
            heads=("Year", "1 in 10 less", "Median", "1 in 10 more"),
            rows=_fan_rows(chart),
        )

    def _fan_chart(self) -> FanChart:
        per_m, unit = _wall_unit(self.units)
        run = self.case.book.runs.index(self.chosen.run)
        fan = self.detail.fan(run)
        measured = self.detail.measured(run)
        return FanChart(
            years=[_calendar_year(moment(at)) for at in fan.times_yr],
            low=[per_m * value for value in fan.low_m],
            middle=[per_m * value for value in fan.middle_m],
            high=[per_m * value for value in fan.high_m],
            now_year=_calendar_year(moment(self.case.input.now_yr)),
            wall=per_m * self.case.input.runs[run].wall_m,
            measured=[
                (_calendar_year(one.at), per_m * one.lost_m, per_m * one.error_m)
                for one in measured
            ],
            unit=unit,
        )

    @cached_property
    def belief(self) -> Picture:
        belief = self.detail.belief
        chart = BeliefChart(belief.theta, belief.prior, belief.posterior)
        before, after = belief.before, belief.after
        rows = [
            (words, f"{getattr(before, part):.2f}", f"{getattr(after, part):.2f}")
            for part, words in (
                ("low", "1 in 10 below"),
                ("middle", "Median"),
                ("high", "1 in 10 above"),
            )
        ]
        return Picture(
            sentence=_belief_sentence(before, after),
            wide=charts.themed_svg(charts.belief_spec, chart, WIDE),
            narrow=charts.themed_svg(charts.belief_spec, chart, NARROW),
            heads=("Multiplier", "Before evidence", "With evidence"),
            rows=rows,
        )


def drivers(row: Assessment) -> list[dict[str, Any]]:
    """The reasons that raise the score, without what field evidence says."""
    return [reason for reason in row.reasons if reason["code"] != "evidence"]


def run_labels(runs: Sequence[PipeRun]) -> dict[int, str]:
    """“Cross main 4”, numbered where there are several alike."""
    names = [str(run) for run in runs]
    seen: dict[str, int] = {}
    labels = {}
    for run, name in zip(runs, names, strict=True):
        seen[name] = seen.get(name, 0) + 1
        labels[run.pk] = name if names.count(name) == 1 else f"{name} (no. {seen[name]})"
    return labels


def _um(band) -> tuple[float, float, float]:
    return (1e6 * band.low, 1e6 * band.middle, 1e6 * band.high)


def _wall_unit(units: str) -> tuple[float, str]:
    return (MM_PER_M, "mm") if units == "si" else (MM_PER_M * INCHES_PER_MM, "in")


def _calendar_year(when: datetime) -> float:
    return when.year + (when.timetuple().tm_yday - 1) / 365.25


def _clock(hours: tuple[float, float]) -> str:
    """To the quarter of an hour."""
    quarters = [round(4 * hour) for hour in hours]
    return " and ".join(f"{quarter // 4 or 12}:{quarter % 4 * 15:02d}" for quarter in quarters)


def _at(chart: FanChart, year: float) -> int:
    return min(range(len(chart.years)), key=lambda at: abs(chart.years[at] - year))


def _fan_sentence(label: str, chart: FanChart) -> str:
    today, later = _at(chart, chart.now_year), _at(chart, chart.now_year + 10)
    digits = 2 if chart.unit == "mm" else 3
    lost, low, high = (getattr(chart, part)[today] for part in ("middle", "low", "high"))
    readings = f" Diamonds are {len(chart.measured)} wall readings." if chart.measured else ""
    return (
        f"{label}: where the water line eats it, about {lost:.{digits}f} {chart.unit} of a wall of "
        f"{chart.wall:.{digits}f} {chart.unit} is gone on average, 8 in 10 times between "
        f"{low:.{digits}f} and {high:.{digits}f}. In ten years it is about "
        f"{chart.middle[later]:.{digits}f} if things go on as they are. "
        f"Pits go deeper than the average.{readings}"
    )


def _fan_rows(chart: FanChart) -> list[tuple[str, ...]]:
    """A row for every fifth year, for today and for the end."""
    digits = 2 if chart.unit == "mm" else 3
    first, last = round(chart.years[0]), round(chart.years[-1])
    years = sorted({*range(first, last + 1, 5), round(chart.now_year), last})
    rows = [(year, _at(chart, year)) for year in years]
    return [
        (
            str(year),
            *(f"{getattr(chart, part)[at]:.{digits}f}" for part in ("low", "middle", "high")),
        )
        for year, at in rows
    ]


def _belief_sentence(before, after) -> str:
    change = after.middle / before.middle
    if abs(change - 1) < 0.03:
        lead = "What was found so far leaves the estimate where it was"
    else:
        lead = f"What was found so far makes it {change:.2f} times as deep as the ledger alone says"
    return (
        f"{lead}: with 8 chances in 10 between {after.low:.2f} and {after.high:.2f} times, where "
        f"it was between {before.low:.2f} and {before.high:.2f} before any evidence."
    )
