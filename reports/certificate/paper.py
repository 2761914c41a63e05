"""The certificate of an accepted inerting run: plan against measured, and how to check it."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from registry.kinds.readings import PRESSURE_READING
from registry.models import InertingRun, Record, System
from registry.pages.run import step_words
from registry.protection import restoration
from registry.quantities import format_quantity
from registry.runs.planning import plan_digest
from registry.runs.progress import FillLog, current_steps, expected_of_fill, fill_logs
from registry.runs.steps import ACCEPTED, FINAL_PURGE, RETURNED, STARTED, WATER_FILLED
from registry.services.log import proof_of
from registry.translation import _
from registry.words.details import one_line
from registry.words.spoken import Number, numeral, written
from reports.certificate.acceptance import (
    Signature,
    asked_facts,
    instrument_facts,
    leave_words,
    signatures,
)
from reports.pdf import compile_pdf
from reports.printing import (
    atmosphere_words,
    moment_words,
    paper_size,
    printed_cautions,
    printed_strip,
    qr_svg,
)

CERTIFIED = (InertingRun.Status.ACCEPTED, InertingRun.Status.RETURNED)
SHOWN_CAUTIONS = ("draining", "nitrogen", "oxygen")
ABOVE = {"us": "10 psi", "si": "0.7 bar"}  # of the regulator; common practice, no source
KEEPING_IT = (
    _("Connect nitrogen before any drain is opened."),
    _("Set the regulator about {above} above system pressure, never above the rated pressure."),
    _("Start the nitrogen, then open the main drain, and keep it flowing until all water is out."),
    _("Close the main drain before opening an auxiliary drain; one drain open at a time."),
    _("After the work, refill. A step left out lets air in, and this acceptance no longer holds."),
)


@dataclass(frozen=True)
class FillRow:
    fill: str
    planned: str
    planned_band: str
    expected_band: str
    filled_to: str
    read: str
    where: str
    when: str
    by: str
    mixing_index: str


@dataclass(frozen=True)
class Certificate:
    """Everything printed, in words already; the template only sets it."""

    paper: str
    title: str
    system: str
    place: str
    result: str
    accepted: str
    accepted_on: tuple[int, int, int]
    is_returned: bool
    facts: tuple[tuple[str, str], ...]
    run_facts: tuple[tuple[str, str], ...]
    acceptance: tuple[tuple[str, str], ...]
    fills: tuple[FillRow, ...]
    remarks: tuple[str, ...]
    closing: tuple[tuple[str, str], ...]
    atmosphere: str
    cautions: tuple[tuple[str, str], ...]
    keeping_it: tuple[str, ...]
    ledger: tuple[tuple[str, str], ...]
    strip: str
    signatures: tuple[Signature, ...] = ()
    proof: str = ""

    def document(self) -> dict[str, Any]:
        return {name: value for name, value in asdict(self).items() if name != "strip"}

    def pdf(self) -> bytes:
        code = qr_svg(self.proof) if self.proof else ""
        return compile_pdf("certificate.typ", self.document(), strip=self.strip, code=code)


def keeping_it(units: str) -> tuple[str, ...]:
    """How to keep it inert, in the reader's units."""
    return tuple(str(line).replace("{above}", numeral(ABOVE[units])) for line in KEEPING_IT)


def certificate_of(run: InertingRun, *, units: str) -> Certificate:
    """The certificate of an accepted run; the same for the same ledger and units."""
    steps = current_steps(run)
    system, zone = run.system, run.system.site.zone
    acceptance = next(step for step in steps if step.kind == ACCEPTED)
    day = acceptance.occurred_at.astimezone(zone)
    return Certificate(
        paper=paper_size(units),
        title=gettext("Certificate of inerting"),
        system=system.tag,
        place=f"{system.place}, {system.site.owner}",
        result=_percent(acceptance.details["n2_percent"]),
        accepted=moment_words(acceptance.occurred_at, zone),
        accepted_on=(day.year, day.month, day.day),
        is_returned=run.status == InertingRun.Status.RETURNED,
        facts=tuple(_system_facts(system, units)),
        run_facts=tuple(_run_facts(run, steps, acceptance, units)),
        acceptance=tuple(asked_facts(run, steps, acceptance, units)),
        fills=tuple(_fill_rows(run, steps, zone, units)),
        remarks=tuple(_remarks(run, steps, zone, units)),
        closing=tuple(_closing(steps, zone, units)),
        atmosphere=atmosphere_words(system, steps[-1].occurred_at),
        cautions=printed_cautions(*SHOWN_CAUTIONS),
        keeping_it=keeping_it(units),
        ledger=tuple(_ledger(system, steps[-1], zone)),
        strip=printed_strip(system, steps[-1].occurred_at),
        signatures=tuple(signatures(steps, zone)),
        proof=str(proof_of(steps[-1], is_first=True) or ""),
    )


def last_step(run: InertingRun) -> Record:
    """The record that the proof of a certificate is about."""
    return current_steps(run)[-1]


def _system_facts(system: System, units: str) -> Iterable[tuple[str, str]]:
    volume = system.volume()
    yield gettext("System"), f"{system.tag}, {system.get_kind_display().lower()}"
    yield gettext("Site"), system.place
    yield gettext("Address"), ", ".join(system.site.address.split("\n")) or gettext("not recorded")
    yield gettext("Owner"), str(system.site.owner)
    yield (
        gettext("Volume in the register"),
        f"{format_quantity(volume.m3, 'volume', units)} ({volume.basis})",
    )
    yield (
        gettext("Rated pressure"),
        format_quantity(system.rated_pressure_gauge_pa, "pressure", units),
    )
    yield gettext("Supply of gas"), system.get_gas_supply_display()
    if system.is_incomplete:
        yield gettext("Register"), system.incomplete_words


def _run_facts(
    run: InertingRun, steps: Sequence[Record], acceptance: Record, units: str
) -> Iterable[tuple[str, str]]:
    zone = run.system.site.zone
    people = dict.fromkeys(str(step.recorded_by) for step in steps)
    contractor = run.system.site.contractor_on(acceptance.occurred_at.astimezone(zone).date())
    yield gettext("Logged by"), ", ".join(people)
    yield (
        gettext("Contractor of the site"),
        str(contractor) if contractor else gettext("none in the register"),
    )
    yield gettext("Run begun"), moment_words(run.opened_at, zone)
    yield gettext("Owner's leave"), leave_words(steps)
    yield gettext("Reading accepted"), moment_words(acceptance.occurred_at, zone)
    yield gettext("Returned to service"), _returned(steps, zone)
    yield gettext("Accepted at or above"), _percent(run.target_n2_percent)
    yield gettext("Nitrogen in the feed"), _percent(run.feed_n2_percent)
    yield gettext("Nitrogen at the start"), _percent(run.start_n2_percent)
    yield (
        gettext("Planned fill pressure"),
        format_quantity(run.fill_pressure_gauge_pa, "pressure", units),
    )
    yield gettext("Volume planned with"), format_quantity(run.volume_m3, "volume", units)
    yield from instrument_facts(run, steps)


def _returned(steps: Sequence[Record], zone: ZoneInfo) -> str:
    """The acceptance says what the gas is; this, whether protection came back, and when."""
    back = next((step for step in steps if step.kind == RETURNED), None)
    if back is None:
        return gettext("not on record")
    judged = restoration.verdict(back.details, ends="")
    return f"{moment_words(back.occurred_at, zone)}. {judged.reason}"


def _fill_rows(
    run: InertingRun, steps: Sequence[Record], zone: ZoneInfo, units: str
) -> Iterable[FillRow]:
    logs = fill_logs(run, steps)
    for log in logs:
        expected = expected_of_fill(run, logs, log.fill)
        yield FillRow(
            fill=str(log.fill),
            planned=numeral(f"{log.planned['n2_percent']:.1f} %")
            if log.planned
            else gettext("not planned"),
            planned_band=_band(log.planned["low"], log.planned["high"]) if log.planned else "",
            expected_band=_band(expected.low, expected.high) if expected else "",
            filled_to=_pressure(log.filled, units),
            **_read(log, zone),
            mixing_index="" if log.mixing_index is None else numeral(f"{log.mixing_index:.2f}"),
        )


def _read(log: FillLog, zone: ZoneInfo) -> dict[str, str]:
    reading = log.reading
    if reading is None:
        return {"read": gettext("not read"), "where": "", "when": "", "by": ""}
    return {
        "read": _percent(reading.details["n2_percent"]),
        "where": reading.details.get("where", ""),
        "when": written(reading.occurred_at.astimezone(zone), "%-d %b %H:%M"),
        "by": str(reading.recorded_by),
    }


def _remarks(
    run: InertingRun, steps: Sequence[Record], zone: ZoneInfo, units: str
) -> Iterable[str]:
    """What a reader of the table should know: questions, further readings, corrections, extras."""
    if not _is_plan_as_recorded(run, steps):
        yield gettext("The plan shown here is not the one of which the ledger holds the SHA-256.")
    for log in fill_logs(run, steps):
        for reading in log.readings[:-1]:
            where = reading.details.get("where")
            yield (
                gettext("Fill {fill} was also read as {n2_percent}, {where}.").format(
                    fill=log.fill, n2_percent=_percent(reading.details["n2_percent"]), where=where
                )
                if where
                else gettext("Fill {fill} was also read as {n2_percent}.").format(
                    fill=log.fill, n2_percent=_percent(reading.details["n2_percent"])
                )
            )
        if log.reading and (why := log.reading.details.get("questioned")):
            yield gettext("The reading of fill {fill} was questioned and kept. {why}").format(
                fill=log.fill, why=why
            )
    for wrong in run.records.filter(superseded_by__isnull=False).order_by("sequence"):
        later = wrong.superseded_by
        if later.kind == wrong.kind:
            before, after = step_words(wrong, units), step_words(later, units)
            yield gettext("Corrected as record {sequence}: {before} became {after}.").format(
                sequence=later.sequence, before=before, after=after
            )
    for extra in run.records.current().filter(kind=PRESSURE_READING.code):
        when = moment_words(extra.occurred_at, zone)
        yield gettext("Also logged, {when}: {what}.").format(
            when=when, what=one_line(extra.definition, extra.details, units)
        )


def _is_plan_as_recorded(run: InertingRun, steps: Sequence[Record]) -> bool:
    """Runs begun before the ledger kept a digest of their plan have none to differ from."""
    recorded = next((step.details.get("plan_sha256") for step in steps if step.kind == STARTED), "")
    return not recorded or recorded == plan_digest(run.plan)


def _closing(steps: Sequence[Record], zone: ZoneInfo, units: str) -> Iterable[tuple[str, str]]:
    for step in steps:
        if step.kind in (FINAL_PURGE, WATER_FILLED, RETURNED):
            words = step_words(step, units)
            when = f"{moment_words(step.occurred_at, zone)}, {step.recorded_by}"
            yield str(step.definition.label), f"{when}. {words}" if words else when


def _ledger(system: System, last: Record, zone: ZoneInfo) -> Iterable[tuple[str, str]]:
    yield (
        gettext("Record {sequence}, the last of this run").format(sequence=last.sequence),
        last.hash,
    )
    head = system.records.latest("sequence")
    written = moment_words(head.recorded_at, zone)
    yield (
        gettext("Record {sequence}, head of the ledger, written {written}").format(
            sequence=head.sequence, written=written
        ),
        head.hash,
    )


def _percent(value: float) -> str:
    return format_quantity(value, "percent")


def _band(low: float, high: float) -> str:
    return gettext("{low:.1f} to {high:.1f} %").format(low=Number(low), high=Number(high))


def _pressure(step: Record | None, units: str) -> str:
    if step is None:
        return gettext("not logged")
    return format_quantity(step.details["pressure_gauge_pa"], "pressure", units)
