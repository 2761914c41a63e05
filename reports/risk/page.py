"""Everything the risk page of one system shows: read once, worked out by the assessment."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

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
from registry.assess.books import Pipe
from registry.assess.changes import bridge_from
from registry.assess.details import Detail
from registry.assess.where_to_measure import LEAST_WORTH, clock_text
from registry.atmosphere import LedgerItem
from registry.corrosion.bridge import Step
from registry.corrosion.details import Band
from registry.models import Assessment, Record, System
from registry.templatetags.risk import chance, points
from registry.words.told.retelling import retold
from reports.risk.leak_watch import watch_words
from reports.risk.pictures import MM_PER_M, Picture, belief_picture, fan_picture
from reports.risk.points import PointRow
from reports.risk.shares import (
    Bar,
    Share,
    bridge_bars,
    channels_of,
    out_of_a_hundred,
    reason_bars,
)

YEAR = timedelta(days=365)
MOST_DAYS = 60
LEAST_UM, LEAST_POINTS = 0.05, 0.05

LOOK_WORDS = {
    "model": _("The model says so: half of the time in which one in ten would leak."),
    "rule": _("The rule of API 570 says so: half of what is left at a measured point."),
    "limit": _(
        "Neither the model nor a measured point asks for it sooner; five years is the most."
    ),
}


@dataclass(frozen=True)
class RunRow:
    run: Pipe
    label: str
    in_model: bool
    loss_um: tuple[float, float, float]
    deepest_um: tuple[float, float, float]
    leak_in_5_yr: float
    left_mm: float
    is_measured: bool


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


class RiskPage:
    """Worked out for the day of the stored assessment, so that page and store agree."""

    def __init__(
        self,
        system: System,
        *,
        units: str,
        now: datetime,
        run_pk: int | None = None,
        since: date | None = None,
    ):
        self.system, self.units, self.since = system, units, since
        self.stored = Assessment.objects.latest().filter(system=system).first()
        self.day: date = self.stored.as_of if self.stored else day_of(now)
        self.found: Case | None = case_of(read_books([system.pk], end_of(self.day))[0])
        self.run_pk = run_pk

    @property
    def is_assessed(self) -> bool:
        return self.found is not None

    @property
    def case(self) -> Case:
        """What was assessed. Whoever asks has asked `is_assessed` before."""
        if self.found is None:
            raise LookupError(
                gettext("{system} has no pipe in the register, so nothing to assess.").format(
                    system=self.system
                )
            )
        return self.found

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
        if self.year_ago is None or self.year_ago.score is None or self.row.score is None:
            return None
        return self.row.score - self.year_ago.score

    @cached_property
    def earlier(self) -> list[date]:
        """Days of earlier assessments that gave a score, the latest first."""
        rows = self.system.assessments.filter(as_of__lt=self.day, score__isnull=False)
        return list(rows.order_by("-as_of").values_list("as_of", flat=True).distinct()[:MOST_DAYS])

    @cached_property
    def compared(self) -> Assessment | None:
        """The assessment that the score is compared with: of the day asked for, of a year ago, or
        the first there is."""
        rows = self.system.assessments.filter(as_of__lt=self.day, score__isnull=False)
        if self.since:
            asked = rows.filter(as_of__lte=self.since).order_by("-as_of", "-pk").first()
            if asked:
                return asked
        return self.year_ago or rows.order_by("as_of", "-pk").first()

    @property
    def overrides(self) -> dict[str, LedgerItem]:
        return overrides_of(self.case.book)

    @property
    def set_here(self) -> list[tuple[str, Any, str, str]]:
        """Assumptions set for this system: name, value, unit and why."""
        return [
            (key.replace("_", " "), row.details["value"], row.details.get("unit", ""), row.note)
            for key, row in self.overrides.items()
        ]

    @property
    def other_causes_words(self) -> str:
        (low, score_low), (high, score_high) = self.detail.by_active_share
        return gettext(
            "Of attack that needs no oxygen nobody has published how many systems have it. "
            "Assumed: {share}. With {low} the score would be {score_low}, with {high} {score_high}."
        ).format(
            share=chance(float(self.case.input.assumptions.active_share)),
            low=chance(low),
            high=chance(high),
            score_low=points(score_low),
            score_high=points(score_high),
        )

    @property
    def has_leaked(self) -> bool:
        """After a leak on record what comes is the next one."""
        return bool(self.case.input.leaks)

    @property
    def leak_in_5_yr_by(self) -> dict[str, float]:
        """Chance of a leak within five years by each way alone; together less than their sum."""
        found: dict[str, float] = self.assessed.values["evidence"]["leak_in_5_yr_by"]
        return found

    @cached_property
    def channels(self) -> list[tuple[str, float]]:
        return channels_of(self.assessed.values["evidence"])

    @property
    def in_a_hundred(self) -> str:
        """Nothing that can leak reads 0, nothing that may hold reads 100."""
        chance = 100 * (self.row.leak_in_5_yr or 0.0)
        if 0 < chance < 1:
            return "<1"
        return ">99" if 99 < chance < 100 else f"{chance:.0f}"

    @cached_property
    def shares(self) -> list[Share]:
        return out_of_a_hundred(self.leak_in_5_yr_by, self.row.leak_in_5_yr or 0.0)

    @property
    def reason_bars(self) -> list[Bar]:
        return reason_bars(self.drivers)

    @property
    def is_worth_telling_delay(self) -> bool:
        return self.row.is_worth_telling_delay

    @property
    def look_reason(self) -> str:
        return str(LOOK_WORDS[self.detail.next_look.by])

    @property
    def drivers(self) -> list[dict[str, Any]]:
        return drivers(self.row)

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
                is_measured=detail.is_measured,
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
                self.labels[runs[one.run].pk] if one.run is not None else gettext("run not known"),
                one.why_not,
            )
            for one in judged
        ]

    @cached_property
    def points(self) -> list[PointRow]:
        return [PointRow.of(self.labels[run.pk], point) for run, point in self.detail.points]

    @property
    def least_worth(self) -> float:
        return LEAST_WORTH

    @property
    def has_structural(self) -> bool:
        return any(point.structural_life_yr is not None for point in self.points)

    @property
    def least_structural_yr(self) -> float:
        lives = (point.structural_life_yr for point in self.points)
        return min(life for life in lives if life is not None)

    @property
    def has_slowed(self) -> bool:
        return any(point.has_slowed for point in self.points)

    @property
    def contradictions(self) -> list[PointRow]:
        return [point for point in self.points if point.contradicts]

    @cached_property
    def bridge(self) -> tuple[Step, ...]:
        """Why the score changed since `compared`; the steps lead from its score to this one."""
        if self.compared is None or self.compared.score is None:
            return ()
        return bridge_from(self.compared, self.case)

    @property
    def bridge_bars(self) -> list[Bar]:
        if self.compared is None or self.compared.score is None:
            return []
        return bridge_bars(self.bridge, self.compared.score)

    @property
    def bridge_total(self) -> float:
        return sum(step.points for step in self.bridge)

    @property
    def wall_points(self) -> list[dict[str, Any]]:
        return [
            {
                "label": self.labels[run.pk],
                "clock": clock_text(point.clock) if point.clock else "",
                "text": retold(point.text),
                "worth": point.worth,
                "changes": point.changes,
            }
            for run, point in self.detail.wall_points
        ]

    @cached_property
    def fan(self) -> Picture:
        return fan_picture(self.detail, self.chosen.run, self.chosen.label, self.units)

    @property
    def leak_watch(self) -> str:
        return watch_words(self.case)

    @cached_property
    def belief(self) -> Picture:
        return belief_picture(self.detail.belief)


def drivers(row: Assessment) -> list[dict[str, Any]]:
    """The reasons of the score, which add up to it: the baseline, then the largest."""
    return row.reasons


def run_labels(runs: Sequence[Pipe]) -> dict[int, str]:
    """“Cross main 4”, numbered where there are several alike."""
    names = [str(run) for run in runs]
    seen: dict[str, int] = {}
    labels = {}
    for run, name in zip(runs, names, strict=True):
        seen[name] = seen.get(name, 0) + 1
        labels[run.pk] = name if names.count(name) == 1 else f"{name} (no. {seen[name]})"
    return labels


def _um(band: Band) -> tuple[float, float, float]:
    return (1e6 * band.low, 1e6 * band.middle, 1e6 * band.high)
