"""The pictures of the risk page and of its paper: what they are drawn from, and what they say."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.utils.translation import gettext

from registry.assess.books import Pipe
from registry.assess.clock import moment
from registry.assess.details import Belief, Detail
from registry.corrosion.details import Band
from registry.words.spoken import Number
from reports import charts
from reports.charts import NARROW, WIDE, BeliefChart, FanChart, Spec

MM_PER_M = 1000.0
INCHES_PER_MM = 1 / 25.4


@dataclass(frozen=True)
class Picture:
    """A sentence that says what it shows, the drawing for two widths, and its numbers."""

    name: str
    sentence: str
    chart: FanChart | BeliefChart
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]

    @cached_property
    def wide(self) -> str:
        return charts.themed_svg(self.chart, WIDE)

    @cached_property
    def narrow(self) -> str:
        return charts.themed_svg(self.chart, NARROW)

    @cached_property
    def wide_spec(self) -> Spec:
        return charts.themed_spec(self.chart, WIDE)

    @cached_property
    def narrow_spec(self) -> Spec:
        return charts.themed_spec(self.chart, NARROW)


def fan_picture(detail: Detail, run: Pipe, label: str, units: str) -> Picture:
    chart = fan_chart(detail, run, units)
    return Picture(
        name="fan",
        sentence=_fan_sentence(label, chart),
        chart=chart,
        heads=(
            gettext("Year"),
            gettext("1 in 10 less"),
            gettext("Median"),
            gettext("1 in 10 more"),
        ),
        rows=_fan_rows(chart),
    )


def fan_chart(detail: Detail, run: Pipe, units: str) -> FanChart:
    per_m, unit = _wall_unit(units)
    at = detail.case.book.runs.index(run)
    fan = detail.fan(at)
    return FanChart(
        years=[_calendar_year(moment(at_yr)) for at_yr in fan.times_yr],
        low=[per_m * value for value in fan.low_m],
        middle=[per_m * value for value in fan.middle_m],
        high=[per_m * value for value in fan.high_m],
        now_year=_calendar_year(moment(detail.input.now_yr)),
        wall=per_m * detail.input.runs[at].wall_m,
        measured=[
            (_calendar_year(one.at), per_m * one.lost_m, per_m * one.error_m)
            for one in detail.measured(at)
        ],
        unit=unit,
    )


def belief_picture(belief: Belief) -> Picture:
    before, after = belief.before, belief.after
    words = {
        "low": gettext("1 in 10 below"),
        "middle": gettext("Median"),
        "high": gettext("1 in 10 above"),
    }
    return Picture(
        name="belief",
        sentence=_belief_sentence(before, after),
        chart=BeliefChart(belief.theta, belief.prior, belief.posterior),
        heads=(gettext("Multiplier"), gettext("Before evidence"), gettext("With evidence")),
        rows=[
            (said, f"{Number(getattr(before, part)):.2f}", f"{Number(getattr(after, part)):.2f}")
            for part, said in words.items()
        ],
    )


def _wall_unit(units: str) -> tuple[float, str]:
    return (MM_PER_M, "mm") if units == "si" else (MM_PER_M * INCHES_PER_MM, "in")


def _calendar_year(when: datetime) -> float:
    return when.year + (when.timetuple().tm_yday - 1) / 365.25


def _at(chart: FanChart, year: float) -> int:
    return min(range(len(chart.years)), key=lambda at: abs(chart.years[at] - year))


def _fan_sentence(label: str, chart: FanChart) -> str:
    today, later = _at(chart, chart.now_year), _at(chart, chart.now_year + 10)
    digits = 2 if chart.unit == "mm" else 3
    lost, low, high = (getattr(chart, part)[today] for part in ("middle", "low", "high"))
    readings = f" {_diamonds(len(chart.measured))}" if chart.measured else ""
    numbers = {
        name: f"{Number(value):.{digits}f}"
        for name, value in (
            ("lost", lost), ("low", low), ("high", high), ("wall", chart.wall),
            ("later", chart.middle[later]),
        )
    }  # fmt: skip
    return (
        gettext(
            "{label}: at the waterline, about {lost} {unit} of a wall of {wall} {unit} is gone on "
            "average, 8 in 10 times between {low} and {high}. In ten years it is about {later} if "
            "things go on as they are. Pits go deeper than the average."
        ).format(label=label, unit=chart.unit, **numbers)
        + readings
    )


def _diamonds(readings: int) -> str:
    return (
        gettext("The diamond is a wall reading.")
        if readings == 1
        else gettext("The diamonds are {readings} wall readings.").format(readings=readings)
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
            *(
                f"{Number(getattr(chart, part)[at]):.{digits}f} {chart.unit}"
                for part in ("low", "middle", "high")
            ),
        )
        for year, at in rows
    ]


def _belief_sentence(before: Band, after: Band) -> str:
    change = after.middle / before.middle
    if abs(change - 1) < 0.03:
        lead = gettext("What was found so far leaves the estimate where it was")
    else:
        lead = gettext(
            "What was found so far makes it {change:.2f} times as deep as the ledger alone says"
        ).format(change=Number(change))
    return gettext(
        "{lead}: with 8 chances in 10 between {low:.2f} and {high:.2f} times, "
        "where it was between {low_2:.2f} and {high_2:.2f} before any evidence."
    ).format(
        lead=lead,
        low=Number(after.low),
        high=Number(after.high),
        low_2=Number(before.low),
        high_2=Number(before.high),
    )
