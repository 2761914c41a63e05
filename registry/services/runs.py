"""Inerting runs: begun, logged step by step, corrected, stopped. What was done is in the ledger."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from registry.corrosion.inerting import InertingPlan
from registry.kinds.readings import PRESSURE_READING
from registry.models import InertingRun, OwnerPolicy, Record, System, User
from registry.runs.acceptance import Demands
from registry.runs.planning import notice_text, plan_digest, plan_document
from registry.runs.progress import current_steps, decision_on, open_steps_of, step_of
from registry.runs.steps import (
    ACCEPTED,
    FILLED,
    HELD,
    READ,
    STARTED,
    STOPPED,
    RunStep,
    is_correctable,
    may_accept,
    status_after,
)
from registry.services.ledger import RecordError, lock, record, withdraw
from registry.services.run_checks import (
    RunUnderWay,
    StepLogged,
    check_order,
    check_rise,
    logged_as,
    questioned,
    says,
    written_with,
)

DECIDES = (READ, HELD)
"""What an acceptance rests on."""


@transaction.atomic
def start_run(
    *,
    system: System,
    plan: InertingPlan,
    opened_by: User,
    opened_at: datetime,
    analyser: str = "",
    analyser_calibrated_on=None,
    leave: str = "",
    leave_by: str = "",
    told_all: str = "",
    fire_watch: str = "",
    questioned: str = "",
    client_key: UUID | None = None,
    now: datetime | None = None,
) -> InertingRun:
    """Begin a run; the same `client_key` again returns the run it began the first time."""
    now = now or timezone.now()
    locked = lock(system)
    earlier = locked.inerting_runs.filter(client_key=client_key).first() if client_key else None
    if earlier:
        return earlier
    if plan.refusal:
        raise RecordError({"plan": notice_text(plan.refusal, plan.inputs, opened_by.display_units)})
    if unfinished := unfinished_run(locked):
        raise RunUnderWay(unfinished)
    run = _run_of(
        plan,
        system=locked,
        opened_by=opened_by,
        opened_at=opened_at,
        analyser=analyser,
        analyser_calibrated_on=analyser_calibrated_on,
        client_key=client_key,
    )
    run.save()
    record(
        system=locked,
        kind=STARTED,
        occurred_at=opened_at,
        details=_start_details(run, OwnerPolicy.for_owner(locked.site.owner))
        | {"leave": leave, "leave_by": leave_by, "told_all": told_all, "fire_watch": fire_watch}
        | ({"questioned": questioned} if questioned else {}),
        recorded_by=opened_by,
        inerting_run=run,
        is_held=True,
        now=now,
    )
    return run


def _run_of(plan: InertingPlan, **facts: Any) -> InertingRun:
    inputs = plan.inputs
    return InertingRun(
        plan=plan_document(plan),
        target_n2_percent=inputs.target_n2_percent,
        feed_n2_percent=inputs.feed_n2_percent,
        fill_pressure_gauge_pa=inputs.fill_pressure_gauge_pa,
        start_n2_percent=inputs.start_n2_percent,
        volume_m3=inputs.volume_m3,
        temperature_k=inputs.temperature_k,
        **facts,
    )


def unfinished_run(system: System) -> InertingRun | None:
    open_states = (InertingRun.Status.OPEN, InertingRun.Status.ACCEPTED)
    runs = system.inerting_runs.filter(status__in=open_states)
    return runs.select_related("opened_by").first()


def _start_details(run: InertingRun, policy: OwnerPolicy) -> dict[str, Any]:
    """With what the owner asks of an acceptance today: a later change does not move the goal."""
    calibrated = run.analyser_calibrated_on
    return {
        "start_n2_percent": run.start_n2_percent,
        "feed_n2_percent": run.feed_n2_percent,
        "target_n2_percent": run.target_n2_percent,
        "fill_gauge_pa": run.fill_pressure_gauge_pa,
        "analyser": run.analyser,
        "analyser_calibrated_on": calibrated.isoformat() if calibrated else None,
        "plan_sha256": plan_digest(run.plan),
        **_asked(demands_by(policy, run.target_n2_percent)),
    }


def demands_by(policy: OwnerPolicy, target_n2_percent: float) -> Demands:
    return Demands(
        target_n2_percent,
        wait_s=60.0 * policy.acceptance_wait_minutes,
        points=policy.acceptance_points,
        hold_s=60.0 * policy.acceptance_hold_minutes,
        hold_fall_pa=policy.acceptance_hold_fall_pa,
    )


def _asked(demands: Demands) -> dict[str, Any]:
    hold = {"hold_s": demands.hold_s, "hold_fall_pa": demands.hold_fall_pa}
    return {
        "points": demands.points,
        **({"wait_s": demands.wait_s} if demands.wait_s else {}),
        **(hold if demands.hold_s else {}),
    }


@transaction.atomic
def log_step(
    *,
    run: InertingRun,
    step: RunStep,
    details: Mapping[str, Any],
    recorded_by: User,
    occurred_at: datetime,
    client_key: UUID | None = None,
    is_kept: bool = False,
    is_extra: bool = False,
    now: datetime | None = None,
) -> Record:
    """Log one step, and acceptance with the reading or the hold that earns it.

    `is_kept` writes a reading although it was questioned. `is_extra` writes an entry although the
    run has moved on: a reading as a further reading of its fill, a pressure as a pressure reading.
    The same `client_key` again returns what it wrote the first time, if the answers are the same.
    """
    now = now or timezone.now()
    run.system = lock(run.system)
    if earlier := written_with(run, client_key):
        if not says(earlier, details):
            raise StepLogged(step, earlier, run)
        return earlier
    steps = current_steps(run)
    if not is_extra and step not in open_steps_of(run, steps):
        raise StepLogged(step, logged_as(steps, step), run)
    if not is_extra:
        check_order(steps, occurred_at)
    kind, details = _as_written(run, steps, step, details, is_kept, is_extra)
    written = record(
        system=run.system,
        kind=kind,
        occurred_at=occurred_at,
        details=details,
        recorded_by=recorded_by,
        client_key=client_key,
        inerting_run=run,
        is_held=True,
        now=now,
    )
    steps = [*steps, written]
    if kind in DECIDES:
        steps += _accept_if_met(run, steps, written, now)
    _follow(run, steps)
    return written


def _as_written(
    run: InertingRun,
    steps: Sequence[Record],
    step: RunStep,
    details: Mapping[str, Any],
    is_kept: bool,
    is_extra: bool,
) -> tuple[str, dict[str, Any]]:
    details = dict(details) | ({"fill": step.fill} if step.fill else {})
    if step.kind == READ:
        return READ, questioned(run, steps, details, is_kept)
    if is_extra:
        return PRESSURE_READING.code, _pressure_alone(details)
    if step.kind == FILLED:
        check_rise(run, steps, step.fill, details)
    return step.kind, details


def _pressure_alone(details: Mapping[str, Any]) -> dict[str, Any]:
    if details.get("pressure_gauge_pa") is None:
        raise RecordError(
            {"pressure_gauge_pa": gettext("Only a reading or a pressure can be kept as well.")}
        )
    return {name: details.get(name) for name in ("pressure_gauge_pa", "where")}


def _accept_if_met(
    run: InertingRun, steps: Sequence[Record], last: Record, now: datetime
) -> list[Record]:
    """The acceptance, if what is on record with `last` earns it; the run's system is held."""
    fill = last.details["fill"]
    decision = decision_on(run, steps, fill)
    if decision is None or not decision.is_accepted or not may_accept(steps, fill):
        return []
    acceptance = record(
        system=run.system,
        kind=ACCEPTED,
        occurred_at=last.occurred_at,
        details={
            "fill": fill,
            "n2_percent": decision.n2_percent,
            "target_n2_percent": run.target_n2_percent,
        },
        recorded_by=last.recorded_by,
        client_key=uuid5(last.client_key, ACCEPTED) if last.client_key else None,
        inerting_run=run,
        is_held=True,
        now=now,
    )
    return [acceptance]


@transaction.atomic
def correct_step(
    *,
    run: InertingRun,
    wrong: Record,
    details: Mapping[str, Any],
    recorded_by: User,
    client_key: UUID | None = None,
    is_kept: bool = False,
    now: datetime | None = None,
) -> Record:
    """Put a mistyped step of a fill right. An acceptance that rested on it is taken back first,
    and given again when the corrected reading earns it."""
    now = now or timezone.now()
    run.system = lock(run.system)
    if earlier := written_with(run, client_key):
        if not says(earlier, details):
            raise RecordError({"client_key": gettext("This was sent already with another answer.")})
        return earlier
    steps = current_steps(run)
    if not is_correctable(wrong, steps):
        raise RecordError(
            {
                "supersedes": gettext(
                    "Steps can be corrected until the run goes on after acceptance."
                )
            }
        )
    others = [step for step in steps if step.pk != wrong.pk]
    details = dict(details) | {"fill": wrong.details["fill"]}
    if wrong.kind in DECIDES:
        others = _take_back_acceptance(run, others, wrong.details["fill"], recorded_by, now)
    if wrong.kind == READ:
        details = questioned(run, others, details, is_kept)
    if wrong.kind == FILLED:
        check_rise(run, steps, wrong.details["fill"], details)
    written = record(
        system=run.system,
        kind=wrong.kind,
        occurred_at=wrong.occurred_at,
        details=details,
        recorded_by=recorded_by,
        supersedes=wrong,
        client_key=client_key,
        inerting_run=run,
        is_held=True,
        now=now,
    )
    if wrong.kind in DECIDES:
        _accept_if_met(run, [*others, written], written, now)
    _follow(run, current_steps(run))
    return written


def _take_back_acceptance(
    run: InertingRun, steps: Sequence[Record], fill: int, recorded_by: User, now: datetime
) -> list[Record]:
    """The steps without the acceptance that rested on this fill's reading, if there was one."""
    rested = [step for step in steps if step.kind == ACCEPTED and step.details["fill"] == fill]
    for step in rested:
        withdraw(
            record=step,
            reason="The reading it rested on was corrected.",
            recorded_by=recorded_by,
            now=now,
        )
        run.system = lock(run.system)  # its ledger went on
    return [step for step in steps if step not in rested]


@transaction.atomic
def stop_run(
    *,
    run: InertingRun,
    reason: str,
    left_as: str,
    recorded_by: User,
    occurred_at: datetime,
    client_key: UUID | None = None,
    now: datetime | None = None,
) -> Record:
    """End a run before its return to service; why, and how the system was left, are on record."""
    now = now or timezone.now()
    run.system = lock(run.system)
    details = {"reason": reason, "left_as": left_as}
    earlier = written_with(run, client_key)
    if earlier and says(earlier, details):
        return earlier
    steps = current_steps(run)
    if step_of(run, steps) is None:
        raise StepLogged(RunStep(STOPPED), steps[-1] if steps else None, run)
    check_order(steps, occurred_at)
    written = record(
        system=run.system,
        kind=STOPPED,
        occurred_at=occurred_at,
        details=details,
        recorded_by=recorded_by,
        client_key=client_key,
        inerting_run=run,
        is_held=True,
        now=now,
    )
    _follow(run, [*steps, written])
    return written


def _follow(run: InertingRun, steps: Sequence[Record]) -> None:
    """Status follows from the steps, and a run that ended no longer holds the system."""
    run.status = status_after(steps)
    run.save(update_fields=["status"])
