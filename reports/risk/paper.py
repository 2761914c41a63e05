"""The risk page of one system on paper: the same numbers and pictures, in words already."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from registry.assess import end_of
from registry.assess.where_to_measure import LEAST_WORTH
from registry.atmosphere import LedgerItem
from registry.corrosion.assumptions import assumptions_table
from registry.models import Record
from registry.models.systems import installed_text
from registry.quantities import format_quantity
from registry.templatetags.risk import (
    chance,
    depth_text,
    life,
    life_band,
    lost,
    model_number,
    points,
    signed,
)
from registry.words.spoken import Number, Spoken, day_words, written
from registry.words.told.retelling import retold
from reports.charts import printed_svg
from reports.pdf import compile_pdf
from reports.printing import (
    TYPEFACE,
    atmosphere_words,
    moment_words,
    paper_size,
    printed_cautions,
    printed_strip,
)
from reports.risk.page import EventRow, RiskPage, RunRow
from reports.risk.paper_money import BEYOND, money_of_page
from reports.risk.pictures import Picture
from reports.risk.points import PointRow

SHOWN_CAUTIONS = ("draining", "local_codes")
FOUND = 10
NO_DEPTH_UM = 0.005
SHORT = "%-d %b %Y"
Line = tuple[str, ...]


@dataclass(frozen=True)
class RiskReport:
    """What is printed; the same for the same ledger, day and units."""

    page: RiskPage
    found: Sequence[str] = ()

    def pdf(self) -> bytes:
        return compile_pdf(
            "risk.typ",
            self.document(),
            strip=printed_strip(self.page.system, self.until),
            fan=printed_svg(self.fan.chart, TYPEFACE),
            belief=printed_svg(self.belief.chart, TYPEFACE),
        )

    @property
    def until(self) -> datetime:
        return end_of(self.page.day)

    @property
    def zone(self) -> ZoneInfo:
        return self.page.system.site.zone

    @property
    def fan(self) -> Picture:
        return self.page.fan

    @property
    def belief(self) -> Picture:
        return self.page.belief

    def document(self) -> dict[str, Any]:
        return self._head() | self._findings() | self._foundations()

    def _head(self) -> dict[str, Any]:
        page, system, day = self.page, self.page.system, self.page.day
        return {
            "title": gettext("Risk report"),
            "mark": gettext("The ledger does not hold") if self.found else "",
            "found": list(self.found[:FOUND]),
            "paper": paper_size(page.units),
            "system": system.tag,
            "place": f"{system.place}, {system.site.owner}",
            "day": (day.year, day.month, day.day),
            "as_of": day_words(day),
            "model": page.row.model_version,
            "score": points(self._score),
            "band": page.row.get_band_display().lower(),
            "facts": list(self._facts()),
            "outlook": list(self._outlook()),
            "atmosphere": atmosphere_words(system, self.until),
        }

    def _findings(self) -> dict[str, Any]:
        page = self.page
        return {
            "reasons": [*map(self._reason, page.drivers), (gettext("Score"), points(self._score))],
            "changed": list(self._changed()),
            "points": [self._point(row) for row in page.points],
            "points_apart": self._points_apart(),
            "contradictions": [self._contradiction(row) for row in page.contradictions],
            **_picture("fan", self.fan),
            **_picture("belief", self.belief),
            "runs": [self._run(row) for row in page.runs],
            "events": [self._event(row) for row in page.events],
            "evidence": [self._evidence(*one) for one in page.evidence],
            "leak_watch": page.leak_watch,
            **money_of_page(page),
            "reinspect": written(page.detail.reinspect_at.astimezone(self.zone), "%B %Y"),
            "look_reason": page.look_reason,
            "wall_points": [
                (p["label"], p["clock"], p["text"], _worth(p["worth"], p["changes"]))
                for p in page.wall_points
            ],
        }

    def _foundations(self) -> dict[str, Any]:
        return {
            "rests_on": list(self._rests_on()),
            "assumptions": list(self._assumptions()),
            "model_numbers": gettext(
                "The fixed numbers of the model stand on its page in the book, each with "
                "its source."
            ),
            "cautions": printed_cautions(*SHOWN_CAUTIONS),
            "ledger": [self._ledger_line()],
        }

    @property
    def _score(self) -> float:
        return float(self.page.assessed.values["score"])

    def _facts(self) -> Iterator[Line]:
        system, units = self.page.system, self.page.units
        volume = system.volume()
        yield gettext("System"), f"{system.tag}, {system.get_kind_display().lower()}"
        yield (
            gettext("Address"),
            ", ".join(system.site.address.split("\n")) or gettext("not recorded"),
        )
        yield gettext("Put in"), installed_text(system.installed_on, system.installed_precision)
        if system.is_incomplete:
            yield gettext("Register"), system.incomplete_words
        volume_words = format_quantity(volume.m3, "volume", units)
        yield gettext("Volume"), f"{volume_words} ({volume.basis})"
        yield gettext("Supply of gas"), system.get_gas_supply_display()
        yield (
            gettext("Consequence class"),
            gettext("{consequence_class} of 5").format(consequence_class=system.consequence_class),
        )

    def _outlook(self) -> Iterator[Line]:
        row, units = self.page.row, self.page.units
        found = self.page.assessed.values
        yield (
            (
                gettext("Next leak within 1 year")
                if self.page.has_leaked
                else gettext("First leak within 1 year")
            ),
            chance(found["leak_in_1_yr"]),
        )
        yield gettext("within 5 years"), chance(found["leak_in_5_yr"])
        yield gettext("within 10 years"), chance(found["leak_in_10_yr"])
        for words, probability in self.page.channels:
            yield gettext("{words}, alone").format(words=words), chance(probability)
        yield (
            gettext("Life left, median"),
            gettext("{years} years").format(years=life(found["life_mid_yr"])),
        )
        yield gettext("8 in 10 between"), gettext("{years} years").format(years=life_band(row))
        if self.page.is_worth_telling_delay:
            yield (
                gettext("Each week until inert"),
                gettext("{delay_points_per_week} points, {units} of the worst wall").format(
                    delay_points_per_week=signed(found["delay_points_per_week"], 2),
                    units=depth_text(found["delay_um_per_week"], units),
                ),
            )
        if self.page.trend is not None and self.page.year_ago is not None:
            yield (
                gettext("Trend"),
                gettext("{points} since {month}").format(
                    points=signed(self.page.trend),
                    month=written(self.page.year_ago.as_of, "%B %Y"),
                ),
            )

    def _reason(self, reason: dict[str, Any]) -> Line:
        return retold(reason["text"]), signed(reason["points"])

    def _run(self, row: RunRow) -> Line:
        wall = format_quantity(row.run.wall_mm, "wall", self.page.units)
        if not row.in_model:
            return row.label, wall, gettext("outside the model"), "", "", "", ""
        low, middle, high = (depth_text(um, self.page.units) for um in row.loss_um)
        deepest = depth_text(row.deepest_um[1], self.page.units)
        left = format_quantity(row.left_mm, "wall", self.page.units)
        source = gettext("measured") if row.is_measured else gettext("computed")
        return (
            row.label,
            wall,
            f"{left}, {source}",
            middle,
            gettext("{low} to {high}").format(low=low, high=high),
            deepest,
            chance(row.leak_in_5_yr),
        )

    def _changed(self) -> Iterator[Line]:
        """From the earlier score to this one, both printed."""
        compared = self.page.compared
        if compared is None or compared.score is None or not self.page.bridge:
            return
        yield day_words(compared.as_of), points(compared.score)
        for step in self.page.bridge:
            yield retold(step.text), signed(step.points)
        yield day_words(self.page.day), points(self._score)

    def _point(self, row: PointRow) -> Line:
        units = self.page.units
        short = row.short_um_yr
        return (
            f"{row.label}, {written(row.at.astimezone(self.zone), SHORT)}",
            depth_text(row.read_um, units),
            depth_text(row.left_um, units),
            depth_text(row.long_um_yr, units),
            gettext("one survey") if short is None else depth_text(short, units),
            depth_text(row.needed_um, units),
            gettext("no loss measured")
            if row.life_yr is None
            else gettext("{years} yr").format(years=life(row.life_yr)),
            gettext("{years} yr").format(years=life(row.interval_yr)),
        )

    def _points_apart(self) -> str:
        if not self.page.has_structural:
            return ""
        return gettext(
            "To the thicker minimum that a refinery table asks for stiffness it would be {years} "
            "years at the worst point; that table condemns sound light-wall pipe, so it decides "
            "nothing here."
        ).format(years=life(self.page.least_structural_yr))

    def _contradiction(self, row: PointRow) -> str:
        return gettext("{label}, {day}, {read} read. {words}").format(
            label=row.label,
            day=day_words(row.at.astimezone(self.zone)),
            read=depth_text(row.read_um, self.page.units),
            words=row.contradicts,
        )

    def _event(self, row: EventRow) -> Line:
        depth = (
            gettext("none")
            if row.wall_um < NO_DEPTH_UM
            else depth_text(row.wall_um, self.page.units)
        )
        return (
            str(row.record.definition.label),
            written(row.at.astimezone(self.zone), SHORT),
            depth,
            BEYOND if row.days is None else lost(row.days),
            signed(row.points, 2),
        )

    def _evidence(self, record: Record, run: str, why_not: str) -> str:
        when = day_words(record.occurred_at.astimezone(self.zone))
        said = f"{record.definition.label}, {when}, {run}"
        return (
            gettext("{said}: not used. {why_not}").format(said=said, why_not=why_not)
            if why_not
            else said
        )

    def _rests_on(self) -> Iterator[str]:
        case = self.page.case
        given, known = case.input.assumptions, case.gas.known_from.astimezone(self.zone)
        facts = {"known": Spoken(known), "oxygen": Number(100 * float(given.unknown_oxygen))}
        if case.input.has_pools:
            yield gettext(
                "Before {known:%-d %B %Y} the register knows nothing of this system's gas. "
                "Assumed: air, renewed {times} times a year, {oxygen:.0f} % oxygen."
            ).format(times=_number(given.unknown_turnover_per_year), **facts)
        else:
            yield gettext(
                "Before {known:%-d %B %Y} the register knows nothing of this system's gas. "
                "Assumed: filled {times} times a year, {oxygen:.0f} % oxygen."
            ).format(times=_number(float(given.unknown_fills_per_year)), **facts)
        yield self.page.other_causes_words
        if case.input.is_open:
            yield gettext("Open nozzles: the pipe holds the air of the place, now and from now on.")
            return
        rate = Number(case.input.future_fills_per_year or 0.0)
        yield (
            gettext(
                "Expected from now on: air gets in {rate:.2f} times a year, from the ledger and "
                "the assumption."
            )
            if case.input.has_pools
            else gettext(
                "Expected from now on: {rate:.2f} fills a year, from the ledger and the assumption."
            )
        ).format(rate=rate)

    def _assumptions(self) -> Iterator[Line]:
        """Every number an owner may set, as it holds here, with its standing."""
        given, overrides = self.page.case.input.assumptions, self.page.overrides
        for row in assumptions_table():
            if not row.editable:
                continue
            record = overrides.get(row.key)
            standing = row.basis if record is None else _set_by(record)
            value = _number(getattr(given, row.key))
            yield row.key.replace("_", " "), value, row.unit, standing

    @cached_property
    def _head_record(self) -> Record:
        return self.page.system.records.latest("sequence")

    def _ledger_line(self) -> Line:
        head = self._head_record
        written = moment_words(head.recorded_at, self.zone)
        return gettext("Record {sequence}, head of the ledger, written {written}").format(
            sequence=head.sequence, written=written
        ), head.hash


def risk_report_of(page: RiskPage, found: Sequence[str] = ()) -> RiskReport:
    """`found` is what the ledger does not confirm; with any, every page is marked."""
    if not (page.is_assessed and page.is_ledger):
        raise LookupError(
            gettext("{system} has no assessment by the oxygen ledger to print.").format(
                system=page.system
            )
        )
    return RiskReport(page, found)


def _picture(name: str, picture: Picture) -> dict[str, str | Sequence[Any]]:
    return {
        f"{name}_sentence": picture.sentence,
        f"{name}_heads": picture.heads,
        f"{name}_rows": picture.rows,
    }


def _worth(worth: float, changes: float) -> str:
    if worth < LEAST_WORTH:
        return gettext("Whatever a scan shows there, what is best to do would stay the same.")
    return gettext(
        "A scan is expected to be worth {worth} points, and has a chance of {changes} to change "
        "what is best to do."
    ).format(worth=model_number(worth), changes=chance(changes))


def _number(value: Any) -> str:
    return model_number(float(value))


def _set_by(record: LedgerItem) -> str:
    return f"set, record {record.sequence}: {record.note}"
