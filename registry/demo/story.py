"""What happened to the demo's systems, counted back from today so that it never grows old."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime, time, timedelta
from typing import Any

from registry import services
from registry.demo.people import (
    FOLDER,
    facts,
    make_organisations,
    make_people,
    make_sites,
    note_access,
    note_signs,
    weigh_consequences,
)
from registry.imports.answers import Answers
from registry.imports.load import run_import
from registry.models import InertingRun, Organisation, System, User
from registry.protection import restoration
from registry.quantities import PSI
from registry.riser_sign.facts import refusal
from registry.runs.planning import opening_answers, plan_for_system
from registry.runs.steps import (
    CHECKED,
    FILLED,
    FINAL_PURGE,
    PURGED,
    READ,
    RETURNED,
    WATER_FILLED,
    RunStep,
)
from registry.services.assessments import assessed_at_the_end
from registry.services.riser_signs import make_sign, put_up
from registry.services.runs import log_step, start_run

FILL_MINUTES = 45
ENTERED_AFTER = timedelta(minutes=20)
ANALYSERS = {"pellmoor": "Portable analyser 3", "dunlore": "Hand meter S-2"}
VENT, DRAIN = "Vent, far end of branch 1", "Auxiliary drain 1"

BOOK_BEGAN = timedelta(days=1600)
SIGNS_HUNG = timedelta(days=30)


def load_demo(*, now: datetime, say: Callable[[str], None]) -> bool:
    """Load the portfolio once; False when it is there already, and then nothing is touched."""
    if Organisation.objects.filter(name=facts()["owner"]).exists():
        return False
    organisations = make_organisations()
    people = make_people(organisations)
    make_sites(organisations)
    outcome = run_import(
        FOLDER / "register.csv",
        owner=organisations["owner"],
        answers=Answers(date_order="dmy"),
        now=now - BOOK_BEGAN,
        recorded_by=people["manager"],
    )
    note_access(organisations["owner"])
    note_signs(organisations["owner"], people["manager"], now - BOOK_BEGAN)
    with assessed_at_the_end():
        weigh_consequences(organisations["owner"], people["manager"], now - BOOK_BEGAN)
    entries = json.loads((FOLDER / "history.json").read_text(encoding="utf-8"))
    systems = {
        system.tag: system for system in System.objects.filter(site__owner__name=facts()["owner"])
    }
    for entry in entries:
        _tell(systems[entry["tag"]], entry, people[entry["by"]], now)
    _hang_signs(systems.values(), people["pellmoor"], now - SIGNS_HUNG)
    say(
        f"Loaded {len(systems)} systems, {outcome.new} pipe runs and {len(entries)} entries of "
        f"history ({outcome.to_fix} rows left to fix)."
    )
    return True


def _hang_signs(systems: Iterable[System], by: User, now: datetime) -> None:
    """One at each riser of which a run was accepted by then. Their codes are in no fixture: print
    a new one to try it."""
    for system in systems:
        if not refusal(system, now):
            put_up(sign=make_sign(system=system, made_by=by, now=now).sign, by=by, now=now)


def _tell(system: System, entry: Mapping[str, Any], by: User, now: datetime) -> None:
    begins = _moment(system, entry["days_ago"], now)
    if "run" in entry:
        with assessed_at_the_end():
            _tell_run(system, entry, by, begins)
    else:
        services.record(
            system=system,
            kind=entry["kind"],
            occurred_at=begins,
            details=entry["details"],
            recorded_by=by,
            note=entry.get("note", ""),
            now=begins + ENTERED_AFTER,
        )


def _moment(system: System, days_ago: int, now: datetime) -> datetime:
    """Ten in the morning at the site, so many days ago; a little before now for what is today."""
    if days_ago == 0:
        return now - timedelta(minutes=70)
    day = now.astimezone(system.site.zone).date() - timedelta(days=days_ago)
    return datetime.combine(day, time(10), tzinfo=system.site.zone)


def _tell_run(system: System, entry: Mapping[str, Any], by: User, begins: datetime) -> None:
    answers = opening_answers(system, oxygen=None) | {
        "cylinder": "large",
        "reserve_pressure_gauge_pa": 200 * PSI,
    }
    run = start_run(
        system=system,
        plan=plan_for_system(system, answers),
        opened_by=by,
        opened_at=begins,
        analyser=ANALYSERS[entry["by"]],
        analyser_calibrated_on=(begins - timedelta(days=40)).date(),
        leave="yes",
        told_all="yes",
        fire_watch="yes",
        now=begins,
    )
    _check_analyser(run, entry["check"], by, begins + timedelta(minutes=5))
    steps = list(_steps(run, entry["run"], is_unfinished=entry.get("unfinished", False)))
    for number, (step, details) in enumerate(steps, start=1):
        at = begins + timedelta(minutes=number * FILL_MINUTES / 2)
        log_step(
            run=run,
            step=step,
            details=details,
            recorded_by=by,
            occurred_at=at,
            is_kept=True,
            now=at + timedelta(minutes=1),
        )


def _check_analyser(run: InertingRun, shown: Mapping[str, float], by: User, at: datetime) -> None:
    """What it showed in air and in pure nitrogen; nothing where no check was made."""
    calibrated = run.analyser_calibrated_on
    details = {
        "analyser": run.analyser,
        "analyser_calibrated_on": calibrated.isoformat() if calibrated else "",
        **shown,
    }
    log_step(
        run=run, step=RunStep(CHECKED), details=details, recorded_by=by, occurred_at=at,
        now=at + timedelta(minutes=1),
    )  # fmt: skip


def _steps(
    run: InertingRun, readings: list[float], *, is_unfinished: bool
) -> Iterator[tuple[RunStep, dict[str, Any]]]:
    for fill, n2_percent in enumerate(readings, start=1):
        reached = run.fill_pressure_gauge_pa + (fill - 2) * PSI
        yield RunStep(FILLED, fill), {"pressure_gauge_pa": reached, "where": "Riser gauge"}
        yield RunStep(READ, fill), {"n2_percent": n2_percent, "where": VENT}
        if n2_percent < run.target_n2_percent and not is_unfinished:
            yield RunStep(PURGED, fill), {"pressure_gauge_pa": 0.0, "where": DRAIN}
    if not is_unfinished:
        yield from _closing(run)


def _closing(run: InertingRun) -> Iterator[tuple[RunStep, dict[str, Any]]]:
    if not run.system.is_gas_filled:
        yield RunStep(FINAL_PURGE), {"pressure_gauge_pa": 0.0, "where": DRAIN}
        yield RunStep(WATER_FILLED), {"pressure_gauge_pa": 120 * PSI}
    yield RunStep(RETURNED), dict.fromkeys(restoration.FACTS, "yes")
