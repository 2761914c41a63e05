"""What the plan page and the run page show, beyond the rows themselves."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django.utils.translation import gettext

from registry.atmosphere import LedgerItem, SystemFacts, oxygen_at
from registry.corrosion.constants import OXYGEN_IN_DRY_AIR
from registry.corrosion.inerting import InertingPlan, ReadingJudgement
from registry.forms.runs import PlanForm, StepForm, places
from registry.kinds import KINDS
from registry.kinds.meaning import Water
from registry.kinds.readings import GAS_READING
from registry.models import InertingRun, Record, System, User
from registry.pages.acceptance import demand_words, lack_words
from registry.pages.cautions import CAUTIONS, Caution
from registry.phone.rules import run_state, seen_of
from registry.plausibility import as_data
from registry.runs.progress import (
    Progress,
    current_steps,
    decision_on,
    demands_on,
    last_done,
    open_steps_of,
    progress_of,
    takes_water,
)
from registry.runs.steps import (
    CHECKED,
    CLOSING_GAS,
    CLOSING_WET,
    FILLED,
    FINAL_PURGE,
    HELD,
    PREFIX,
    PURGED,
    READ,
    RETURNED,
    SIGNED,
    STARTED,
    WATER_FILLED,
    RunStep,
    is_correctable,
)
from registry.services.derive import derive_spans, ledger_items, system_facts
from registry.services.run_checks import StepLogged
from registry.translation import _
from registry.words.details import one_line

EMPTIED = (Water.EMPTIES, Water.EMPTIES_FOR_RUN, Water.LEAVES_AFTER_RUN)
FILLED_WITH_WATER = (Water.FILLS, Water.REFILLS_AFTER_RUN)
MINDED = ("nitrogen", "cylinders", "oxygen", "pressure", "draining")
NOT_TOLD = ("fill", "questioned", "target_n2_percent", "files")


@dataclass(frozen=True)
class Question:
    """One screen: what is asked, what to do first, and the words of the answer."""

    title: str
    do: str
    answer: str
    minded: tuple[str, ...] = ()

    @property
    def cautions(self) -> list[Caution]:
        """What can hurt somebody in this very step; the whole list stands below the log."""
        return [CAUTIONS[name] for name in self.minded]


QUESTIONS = {
    CHECKED: Question(
        _("Which analyser, and is it right?"),
        _(
            "Hold it in fresh air until the number stands still. Asked once a run; it stands on "
            "the certificate."
        ),
        _("Log the check"),
    ),
    FILLED: Question(
        _("Fill {fill}: is the pressure reached?"),
        _("Open the cylinder slowly and fill the pipe with nitrogen. Shut off when it is there."),
        _("Pressure reached"),
        ("cylinders", "oxygen", "pressure"),
    ),
    READ: Question(
        _("Fill {fill}: what does the vent read?"),
        _("Bleed gas at the far vent until the reading stands still."),
        _("Log the reading"),
        ("nitrogen",),
    ),
    HELD: Question(
        _("Fill {fill}: does the pressure hold?"),
        _("Shut every valve, read the gauge, wait, and read it again. Touch nothing meanwhile."),
        _("Log the hold"),
    ),
    PURGED: Question(
        _("Fill {fill}: purged to zero?"),
        _(
            "Under target. Let the gas out through an auxiliary drain, which mixes "
            "it best, then shut the drain."
        ),
        _("Purged"),
        ("nitrogen",),
    ),
    FINAL_PURGE: Question(
        _("Accepted. Nitrogen vented to zero?"),
        _(
            "Let the nitrogen out through a drain and shut it again. What stays "
            "trapped is nitrogen."
        ),
        _("Vented"),
        ("nitrogen",),
    ),
    WATER_FILLED: Question(
        _("Filled with water?"),
        _("Open the control valve slowly and fill the system. Do not open a vent to the air."),
        _("Filled"),
    ),
    RETURNED: Question(
        _("Back in service?"),
        _(
            "Set every valve to its normal place, make the tests the standard asks "
            "for, and tell everybody who was told of the impairment."
        ),
        _("Log these answers"),
    ),
}


def question_for(step: RunStep) -> Question:
    question = QUESTIONS[step.kind]
    return replace(question, title=question.title.format(fill=step.fill))


def run_page(
    run: InertingRun,
    steps: Sequence[Record],
    user: User,
    form: StepForm | None = None,
    judgement: ReadingJudgement | None = None,
) -> dict[str, Any]:
    progress = progress_of(run, steps)
    step = form.step if form else progress.step
    return {
        "run": run,
        "progress": progress,
        "form": form,
        "question": question_for(step) if step else None,
        "places": places(run, step) if form and step else [],
        "ahead": _steps_ahead(run, user) if form and run.is_unfinished else [],
        "judgement": judgement,
        **_acceptance(run, steps, step, user.display_units),
        "log": [_log_line(row, steps, user.display_units) for row in reversed(steps)],
        "meter": _meter(run, steps),
        "signed": [row for row in steps if row.kind == SIGNED],
        "ended_at": None if run.is_unfinished else _last_moment(steps),
        "may_read_again": may_read_again(progress),
        "cautions": [CAUTIONS[name] for name in MINDED],
        "protection": None if run.is_unfinished else run.system.protection_spans.last(),
        "plausibility": as_data(),
        "state": run_state(run, steps),
        "seen": seen_of(run.system),
        "is_extra": form is not None and form.step not in open_steps_of(run, steps),
    }


def _meter(run: InertingRun, steps: Sequence[Record]) -> str:
    """The analyser in use, by which a phone remembers what it shows."""
    checked = [row.details["analyser"] for row in steps if row.details.get("analyser")]
    return checked[-1] if checked else run.analyser


def _last_moment(steps: Sequence[Record]) -> datetime | None:
    last = last_done(steps)
    return last.occurred_at if last else None


def _acceptance(
    run: InertingRun, steps: Sequence[Record], step: RunStep | None, units: str
) -> dict[str, Any]:
    """What the owner asks before a reading counts, and what this fill lacks of it yet."""
    demands = demands_on(run, steps)
    filled = [row for row in steps if row.kind == FILLED]
    asks = step if step is not None and step.kind in (READ, HELD) else None
    decision = decision_on(run, steps, asks.fill) if asks else None
    lacks = () if decision is None or decision.is_below else decision.lacks
    return {
        "acceptance": demands.as_data(),
        "asked": list(demand_words(demands, units)) if asks else [],
        "lacks": list(lack_words(lacks, demands, units)),
        "gas_shut_at": filled[-1].occurred_at if filled and asks else None,
        "counts_at": _counts_at(filled, demands.wait_s) if asks else None,
        "may_purge": asks is not None and RunStep(PURGED, asks.fill) in open_steps_of(run, steps),
    }


def _counts_at(filled: Sequence[Record], wait_s: float) -> datetime | None:
    return filled[-1].occurred_at + timedelta(seconds=wait_s) if filled and wait_s else None


def points_read(run: InertingRun, steps: Sequence[Record], step: RunStep) -> tuple[str, ...]:
    """Where this fill was read, if the owner asks for further points."""
    if step.kind != READ or demands_on(run, steps).points == 1:
        return ()
    decision = decision_on(run, steps, step.fill)
    return tuple(reading.where for reading in decision.points) if decision else ()


def _steps_ahead(run: InertingRun, user: User) -> list[dict[str, Any]]:
    """A blank form of every kind of step, for a phone that has lost the book and must go on."""
    closing = CLOSING_WET if takes_water(run) else CLOSING_GAS
    of_a_fill = (FILLED, READ, HELD, PURGED)
    steps = [RunStep(kind, 1) for kind in of_a_fill] + [RunStep(kind) for kind in closing]
    return [
        {
            "name": step.kind.removeprefix(PREFIX),
            "question": _question_ahead(step),
            "form": StepForm(run=run, step=step, user=user, is_blank=True),
        }
        for step in steps
    ]


def _question_ahead(step: RunStep) -> Question:
    """As a phone asks it that has lost the book: it cannot say that a reading was accepted."""
    question = question_for(step)
    if step.kind == FINAL_PURGE:
        return replace(question, title=gettext("Nitrogen vented to zero?"))
    if step.kind == PURGED:
        return replace(question, do=gettext(
            "Let the gas out through an auxiliary drain, which mixes it best, then shut the drain."
        ))  # fmt: skip
    return question


def may_read_again(progress: Progress) -> bool:
    """Before a fill is purged its gas may still be mixing, so it can be read once more."""
    return progress.step is not None and progress.step.kind in (PURGED, HELD)


def _log_line(row: Record, steps: Sequence[Record], units: str) -> dict[str, Any]:
    return {
        "step": row,
        "told": step_words(row, units),
        "is_correctable": is_correctable(row, steps),
    }


def step_words(row: Record, units: str) -> str:
    """A step in one line, without what the page says beside it."""
    hidden = ("plan_sha256",) if row.kind == STARTED else NOT_TOLD
    shown = {name: value for name, value in row.details.items() if name not in hidden}
    return one_line(row.definition, shown, units)


def logged_page(
    run: InertingRun, form: StepForm, moved: StepLogged, when: datetime, user: User
) -> dict[str, Any]:
    """Two entries for one step, side by side."""
    units = user.display_units
    kind = KINDS[moved.step.kind]
    sent_key = form.cleaned_data["client_key"]
    is_used = moved.logged is not None and moved.logged.client_key == sent_key
    return {
        "run": run,
        "progress": progress_of(run, current_steps(run)),
        "form": form,
        "moved": moved,
        "sent_key": sent_key,
        "key": uuid4() if is_used else sent_key,
        "when": when,
        "logged_told": step_words(moved.logged, units) if moved.logged else "",
        "own_told": one_line(kind, form.details, units),
        "may_keep": moved.step.kind == READ or "pressure_gauge_pa" in form.details,
    }


@dataclass(frozen=True)
class StartingGas:
    """Oxygen in the pipe when the first fill begins, and why that is taken."""

    oxygen: float
    because: str


def starting_gas(system: System, now: datetime) -> StartingGas:
    """As the ledger tells it; but pipe that must first be drained of water lets air in."""
    records = list(system.records.current().in_order())
    facts, items = system_facts(system), ledger_items(records)
    estimate = oxygen_at(derive_spans(system, records, now=now), facts, now).mid
    if system.is_gas_filled or _is_drained(facts, items):
        return StartingGas(
            estimate, gettext("As the book estimates it. Air reads 79.05 % on a meter.")
        )
    return StartingGas(
        OXYGEN_IN_DRY_AIR,
        gettext(
            "Draining lets air in, which reads 79.05 %. Write what a meter reads if "
            "the pipe was drained under nitrogen."
        ),
    )


def _is_drained(facts: SystemFacts, items: Sequence[LedgerItem]) -> bool:
    """Whether the last that is known of the water is that it was let out on purpose.

    What opened the pipe by accident does not count: it is filled again as soon as it is mended.
    """
    waters = [KINDS[item.kind].water_of(item, facts) for item in items]
    known = [water for water in waters if water in EMPTIED or water in FILLED_WITH_WATER]
    return bool(known) and known[-1] in EMPTIED


def plan_page(system: System, form: PlanForm, plan: InertingPlan | None) -> dict[str, Any]:
    run_s = None
    if plan and plan.seconds_per_fill is not None and plan.fills_needed:
        run_s = plan.seconds_per_fill * plan.fills_needed
    return {
        "system": system,
        "form": form,
        "plan": plan,
        "gas_reading": GAS_READING,
        "run_s": run_s,
        "groups": [
            (title, [form[name] for name in names if name in form.fields])
            for title, names in GROUPS
        ],
    }


GROUPS = (
    (
        _("The pipe and the gas"),
        ("despite_missing_pipe", "volume_m3")
        + ("fill_pressure_gauge_pa", "feed_n2_percent", "start_n2_percent")
        + ("target_n2_percent", "temperature_k"),
    ),
    (
        _("Cylinders and flow"),
        ("cylinder", "reserve_pressure_gauge_pa", "regulator_flow_m3_s", "generator_flow_m3_s"),
    ),
    (_("The room"), ("room_volume_m3", "air_flow_m3_s")),
    (_("Instrument and start"), ("analyser", "analyser_calibrated_on", "opened_at")),
)
