"""The certificate's words on the instrument, on what the owner asked, and on who signed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from registry.kinds.parts import LEAVE, LEAVE_BY
from registry.models import InertingRun, Record
from registry.pages.acceptance import demand_words, met_words
from registry.plausibility.table import LEAST_AIR_CHECK, MOST_AIR_CHECK, MOST_ZERO_CHECK
from registry.quantities import format_quantity
from registry.runs.acceptance import Hold
from registry.runs.progress import decision_on, demands_on
from registry.runs.steps import CHECKED, HELD, SIGNED, STARTED
from registry.services.run_beside import ON_SCREEN
from registry.words.register import day_text
from reports.kept.photos import opaque
from reports.printing import moment_words


@dataclass(frozen=True)
class Signature:
    """Who signed, in words, and the PNG that was drawn as numbers, which is how Typst takes it."""

    words: str
    png: tuple[int, ...]


def instrument_facts(run: InertingRun, steps: Sequence[Record]) -> Iterator[tuple[str, str]]:
    """The analyser that was checked last in the run, or the one of the plan."""
    checks = [step for step in steps if step.kind == CHECKED]
    said = checks[-1].details if checks else {}
    not_recorded = gettext("not recorded")
    planned = run.analyser_calibrated_on
    calibrated = said.get("analyser_calibrated_on") or (planned.isoformat() if planned else "")
    yield gettext("Gas analyser"), said.get("analyser") or run.analyser or not_recorded
    yield gettext("Analyser calibrated"), day_text(calibrated) if calibrated else not_recorded
    if not checks:
        yield gettext("Air check"), not_recorded
        return
    yield gettext("Air check"), _air(said.get("air_o2_percent"))
    if (zero := said.get("zero_o2_percent")) is not None:
        yield gettext("Check on pure nitrogen"), _zero(zero)
    if why := said.get("questioned"):
        yield gettext("Questioned and kept"), why


def _air(shown: float | None) -> str:
    if shown is None:
        return gettext("none was made")
    value = format_quantity(shown, "percent")
    if LEAST_AIR_CHECK <= shown <= MOST_AIR_CHECK:
        return gettext("{value} oxygen, within 20.9 % ± 0.5").format(value=value)
    return gettext("{value} oxygen, not within 20.9 % ± 0.5: instrument not proven").format(
        value=value
    )


def _zero(shown: float) -> str:
    value = format_quantity(shown, "percent")
    if shown <= MOST_ZERO_CHECK:
        return gettext("{value} oxygen, at most 0.3 %").format(value=value)
    return gettext("{value} oxygen, more than 0.3 %: instrument not proven").format(value=value)


def asked_facts(
    run: InertingRun, steps: Sequence[Record], acceptance: Record, units: str
) -> Iterator[tuple[str, str]]:
    """What the owner asked of the acceptance, and how it was met."""
    demands = demands_on(run, steps)
    asked = list(demand_words(demands, units))
    if not asked:
        yield gettext("The owner asked"), gettext("one reading at target and nothing more")
        return
    yield gettext("The owner asked"), " ".join(asked)
    fill = acceptance.details["fill"]
    decision = decision_on(run, steps, fill)
    if decision is None:
        return
    own = [step for step in steps if step.kind == HELD and step.details["fill"] == fill]
    hold = _hold(own[-1]) if own else None
    atmosphere_pa = run.system.site.atmosphere_pa
    met = met_words(demands, decision, hold, units, atmosphere_pa=atmosphere_pa)
    yield gettext("How it was met"), " ".join(met)


def _hold(step: Record) -> Hold:
    names = Hold.__dataclass_fields__
    return Hold(**{name: said for name, said in step.details.items() if name in names})


def signatures(steps: Sequence[Record], zone: ZoneInfo) -> Iterator[Signature]:
    for step in steps:
        if step.kind != SIGNED:
            continue
        said = step.details
        on_screen = said["way"] == ON_SCREEN
        way = gettext("on the screen") if on_screen else gettext("on paper")
        words = gettext("{name}{role}, {way}, {when}, record {sequence}.").format(
            name=said["name"],
            role=f", {said['role']}" if said.get("role") else "",
            way=way,
            when=moment_words(step.occurred_at, zone),
            sequence=step.sequence,
        )
        if exceptions := said.get("exceptions"):
            words = gettext("{words} Said with it: {exceptions}").format(
                words=words, exceptions=exceptions
            )
        yield Signature(words, _drawn(step))


def leave_words(steps: Sequence[Record]) -> str:
    """Whether the owner gave leave before the valve moved, as it was told when the run began."""
    started = next((step for step in steps if step.kind == STARTED), None)
    said = started.details if started else {}
    told = dict(LEAVE.choices).get(said.get(LEAVE.name, ""))
    if told is None:
        return gettext("not recorded")
    by = said.get(LEAVE_BY.name)
    return f"{told}, {by}" if by else str(told)


def _drawn(step: Record) -> tuple[int, ...]:
    """Opaque, as paper carries it. Nothing where the file is gone, was taken back, is no longer the
    one whose digest is in the ledger, or is no picture that can be read."""
    file = step.attachments.first()
    if file is None or not file.is_shown or not file.is_intact():
        return ()
    with file.open() as png:
        return tuple(opaque(png.read()))
