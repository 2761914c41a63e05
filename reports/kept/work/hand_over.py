"""The hand-over sheet of an inerting run: as it was left, with which gas, seen on which photos, and
signed by whom."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext

from registry.models import Attachment, InertingRun, Record, User
from registry.pages.run import step_words
from registry.quantities import format_quantity
from registry.runs.progress import current_steps
from registry.runs.steps import ACCEPTED, FILLED, PHOTO, RETURNED, SIGNED, STOPPED
from reports.certificate.acceptance import leave_words, signatures
from reports.certificate.paper import keeping_it
from reports.kept.checking import of_record, verdict_of
from reports.kept.layout import Block, Facts, Lines, Paper, Photo, Photos, Points, Section, Table
from reports.kept.photos import photos_of
from reports.kept.words import address_words, moment_words, system_words
from reports.printing import paper_size, printed_cautions

SHOWN_CAUTIONS = ("draining", "nitrogen", "oxygen")


@dataclass(frozen=True)
class GasUsed:
    """What the fills of a run say of their gas. Fills that say nothing are counted, not guessed."""

    fills: Sequence[Record]

    @property
    def m3(self) -> float:
        return sum(self._of(fill) or 0.0 for fill in self.fills)

    @property
    def silent(self) -> int:
        return sum(self._of(fill) is None for fill in self.fills)

    def words(self, units: str) -> str:
        if not self.fills or self.silent == len(self.fills):
            return gettext("not recorded")
        told = format_quantity(self.m3, "volume", units)
        if not self.silent:
            return told
        return gettext("{told}, and {silent} of {fills} fills do not say").format(
            told=told, silent=self.silent, fills=len(self.fills)
        )

    @staticmethod
    def _of(fill: Record) -> float | None:
        return fill.details.get("gas_used_m3")


def hand_over_paper(run: InertingRun, *, reader: User, now: datetime) -> Paper:
    steps = current_steps(run)
    system, units, zone = run.system, reader.display_units, run.system.site.zone
    verdict = verdict_of([system.pk], now=now)
    fills = [step for step in steps if step.kind == FILLED]
    beside = list(
        run.records.current().filter(kind=PHOTO).prefetch_related("attachments").in_order()
    )
    block, files = photos_of(_photos(beside))
    signed, drawn = _signed(steps, run)
    ended = next((step for step in reversed(steps) if step.kind in (RETURNED, STOPPED)), None)
    sections = [
        Section(gettext("How it was left"), [Facts(list(_left(run, steps, units)))]),
        Section(gettext("Gas used"), [*_gas(fills, units)]),
        Section(gettext("Steps"), [_steps(steps, units, run)]),
        *([Section(gettext("Photos"), [block])] if block.photos else []),
        Section(
            gettext("Draining later without letting air in"),
            [Points(list(keeping_it(units)), is_ordered=True)],
        ),
        Section(gettext("Cautions"), [Points(list(_cautions()))]),
        Section(gettext("Handed over"), signed),
        of_record(verdict, steps[-1], now=now),
    ]
    mark = verdict.mark or (gettext("The run has not ended") if ended is None else "")
    return Paper(
        title=gettext("Hand-over sheet"),
        about=system.tag,
        place=f"{system.place}, {system.site.owner}. {address_words(system.site)}",
        size=paper_size(units),
        day=(ended or steps[-1]).occurred_at.astimezone(zone).date(),
        said=list(_said(run, steps)),
        mark=mark,
        found=verdict.found,
        sections=sections,
        files=files | drawn,
        name=f"hand-over-{run.pk}",
    )


def _said(run: InertingRun, steps: Sequence[Record]) -> Iterator[str]:
    zone = run.system.site.zone
    accepted = next((step for step in steps if step.kind == ACCEPTED), None)
    if accepted is None:
        yield gettext("No reading was accepted.")
    else:
        read = format_quantity(accepted.details["n2_percent"], "percent")
        when = moment_words(accepted.occurred_at, zone)
        yield gettext("{read} nitrogen accepted, {when}.").format(read=read, when=when)
    yield gettext("Run: {state}.").format(state=str(run.get_status_display()).lower())


def _left(run: InertingRun, steps: Sequence[Record], units: str) -> Iterator[tuple[str, str]]:
    system, zone = run.system, run.system.site.zone
    yield gettext("System"), system_words(system)
    if system.is_incomplete:
        yield gettext("Register"), system.incomplete_words
    yield gettext("Owner's leave"), leave_words(steps)
    yield gettext("Run begun"), moment_words(run.opened_at, zone)
    ended = [step for step in steps if step.kind in (RETURNED, STOPPED)]
    if not ended:
        yield gettext("Returned to service"), gettext("not on record")
    for step in ended:
        when = moment_words(step.occurred_at, zone)
        words = step_words(step, units)
        yield str(step.definition.label), f"{when}. {words}" if words else when
    now = system.protection_spans.order_by("-starts_at").first()
    yield (
        gettext("Protection when this was printed"),
        now.in_words if now else gettext("Not known"),
    )


def _gas(fills: Sequence[Record], units: str) -> Iterator[Block]:
    used = GasUsed(fills)
    yield Facts([(gettext("In all"), used.words(units))])
    yield Table(
        (gettext("Fill"), gettext("Filled to"), gettext("Cylinders"), gettext("Gas used")),
        [
            (
                str(fill.details["fill"]),
                format_quantity(fill.details["pressure_gauge_pa"], "pressure", units),
                str(fill.details.get("cylinders", "")) or gettext("not recorded"),
                GasUsed([fill]).words(units),
            )
            for fill in fills
        ],
        gettext("No fill was logged."),
        wide=2, numbers=(3,),
    )  # fmt: skip


def _steps(steps: Sequence[Record], units: str, run: InertingRun) -> Table:
    zone = run.system.site.zone
    return Table(
        (gettext("When"), gettext("Step"), gettext("What was logged"), gettext("By")),
        [
            (
                moment_words(step.occurred_at, zone),
                str(step.definition.label),
                step_words(step, units),
                str(step.recorded_by),
            )
            for step in steps
            if step.kind not in (PHOTO, SIGNED)
        ],
        gettext("No step was logged."),
        wide=2, also=1,
    )  # fmt: skip


def _photos(records: Sequence[Record]) -> Iterator[tuple[Attachment, str]]:
    for record in records:
        field = record.definition.field("of")
        of = dict(field.choices).get(record.details.get("of", ""), "") if field else ""
        words = ", ".join(str(part) for part in (of, record.details.get("says")) if part)
        for file in record.attachments.all():
            yield file, words or gettext("nothing was said of it")


def _signed(steps: Sequence[Record], run: InertingRun) -> tuple[list[Block], dict[str, bytes]]:
    """What was drawn on the screen; without any, lines to sign on."""
    told = list(signatures(steps, run.system.site.zone))
    drawn = {f"signed-{at}.png": bytes(one.png) for at, one in enumerate(told) if one.png}
    photos = [
        Photo(one.words, f"signed-{at}.png" if one.png else "") for at, one in enumerate(told)
    ]
    lines = [gettext("Technician: name, signature, date")]
    if not told:
        lines.append(gettext("For the owner: name, signature, date"))
    return [*([Photos(photos)] if photos else []), Lines(lines)], drawn


def _cautions() -> Iterator[str]:
    for title, what in printed_cautions(*SHOWN_CAUTIONS):
        yield f"{title}. {what}"
