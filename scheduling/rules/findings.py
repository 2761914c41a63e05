"""Rules on what was found besides the state of the gas: leaks, dirt, thin walls, trips, faults.

All findings of one kind that no later record answers share one follow-up.
"""

from collections.abc import Callable, Iterator
from datetime import timedelta

from scheduling.rules.answers import ANSWERS, INSPECTION
from scheduling.rules.dating import due_day
from scheduling.rules.slots import working_day
from scheduling.rules.types import Facts, Finding, Rule, TaskDraft

STALE_AFTER = timedelta(days=5 * 366)
"""NFPA 25 has the inside of the pipe assessed every five years (read second hand; check the adopted
edition), so what is older has been looked into since, or is asked for by that."""

THIN = 0.5  # of the wall the pipe began with; common practice, no source
SLOWER = 1.5  # half as long again: NFPA 25, read second hand; check the adopted edition
DIRT = ("slime", "scale", "debris")
HOLES = ("pinhole", "unknown")


def asks_for_a_look_inside(finding: Finding) -> bool:
    details = finding.details
    if finding.kind == "event.leak":
        return details.get("form") in HOLES
    if finding.kind == "reading.obstruction":
        return details.get("finding") in DIRT
    if finding.kind == INSPECTION and finding.first_delivery_s:
        return bool(details.get("delivery_time_s", 0.0) >= SLOWER * finding.first_delivery_s)
    return False


def is_thin(finding: Finding) -> bool:
    return (
        finding.kind == "reading.wall"
        and finding.first_wall_mm is not None
        and finding.details["wall_mm"] < THIN * finding.first_wall_mm
    )


def leaves_water_low(finding: Finding) -> bool:
    return finding.kind == "event.trip" and finding.details.get("drained_after") != "yes"


def is_loss_of_gas(finding: Finding) -> bool:
    return finding.kind == "event.gas_loss"


def investigate_obstruction(facts: Facts) -> Iterator[TaskDraft]:
    yield from _one_for_all(facts, OBSTRUCTION, "obstruction", asks_for_a_look_inside)


def propose_replacement(facts: Facts) -> Iterator[TaskDraft]:
    """To the owner: whether the money is spent is not the contractor's to say."""
    yield from _one_for_all(facts, THIN_WALL, "replacement", is_thin, assigned_to=facts.owner.id)


def drain_low_points(facts: Facts) -> Iterator[TaskDraft]:
    yield from _one_for_all(facts, LOW_POINTS, "low_points", leaves_water_low)


def repair_supply(facts: Facts) -> Iterator[TaskDraft]:
    """Where the register knows of a supply that can have failed."""
    if facts.has_gas_supply:
        yield from _one_for_all(facts, GAS_SUPPLY, "gas_supply", is_loss_of_gas)


OBSTRUCTION = Rule(
    "obstruction",
    "A pinhole or unexplained leak, dirt found in the pipe, or water that needs half as long again "
    "to arrive raises an obstruction investigation.",
    investigate_obstruction,
    title="Look inside where something points to an obstruction",
    waits_for="an obstruction finding “clear”, or an internal assessment with nothing wrong",
    days=30,
    basis="Conditions: NFPA 25 14.3.1, read second hand, check the adopted edition. Days: common "
    "practice, no source.",
)
THIN_WALL = Rule(
    "thin_wall",
    "A wall reading below half of the wall the pipe began with raises a proposal to replace it.",
    propose_replacement,
    title="Propose to replace pipe that has worn thin",
    waits_for="a repair for which the pipe was opened",
    days=30,
)
LOW_POINTS = Rule(
    "low_points",
    "A trip after which nobody says that the low points were drained raises the draining of them.",
    drain_low_points,
    title="Drain low points after a trip",
    waits_for="a drain-down, the recurring draining of low points, or a correction of the trip",
    days=2,
)
GAS_SUPPLY = Rule(
    "gas_supply",
    "Loss of gas pressure where a generator, compressor or cylinders keep it up raises a repair.",
    repair_supply,
    title="Repair the gas supply",
    waits_for="a repair, or another gas supply in the register",
    days=3,
)


def _one_for_all(
    facts: Facts,
    rule: Rule,
    kind: str,
    asks: Callable[[Finding], bool],
    assigned_to: int | None = None,
) -> Iterator[TaskDraft]:
    found = unanswered(facts, kind, asks)
    if not found:
        return
    known_at = min(finding.cause.known_at for finding in found)
    due = due_day(facts, known_at, limit_days=facts.tuned(rule.code).days or rule.days or 1)
    yield TaskDraft(
        rule=rule.code,
        kind=kind,
        title=TITLES[kind],
        why=_why(facts, rule, found),
        slot=working_day(due.day, facts.zone),
        assigned_to=assigned_to or facts.assignee.id,
        keys=tuple(key for finding in found for key in finding.cause.keys),
        cause_ids=tuple(finding.cause.record_id for finding in found),
        due_because=due.because,
    )


def unanswered(facts: Facts, kind: str, asks: Callable[[Finding], bool]) -> list[Finding]:
    """The findings that ask for work and that no later record answers; none of them is stale."""
    answers = [f for f in facts.findings if ANSWERS[kind](f.kind, f.details)]
    answered_at = max((f.cause.occurred_at for f in answers), default=None)
    since = facts.now - STALE_AFTER
    return [
        finding
        for finding in facts.findings
        if asks(finding)
        and finding.cause.occurred_at >= since
        and (answered_at is None or finding.cause.occurred_at > answered_at)
    ]


TITLES = {
    "obstruction": "Obstruction investigation",
    "replacement": "Proposal to replace pipe",
    "low_points": "Drain low points",
    "gas_supply": "Repair of the gas supply",
}


def _why(facts: Facts, rule: Rule, found: list[Finding]) -> str:
    said = "; ".join(f"{facts.day(f.cause.occurred_at)}: {_said(f)}" for f in found)
    return f"{said}. Waits for {rule.waits_for}.{facts.stays}"


def _said(finding: Finding) -> str:
    details = finding.details
    if is_thin(finding):
        return (
            f"{details['wall_mm']:.2f} mm of wall left of {finding.first_wall_mm:.2f} mm, "
            f"{details.get('nominal_size', '')} {details.get('run_role', '').replace('_', ' ')}"
        )
    if finding.kind == "reading.obstruction":
        return f"{finding.cause.label}, {details['finding']}"
    if finding.kind == INSPECTION:
        return f"water arrived after {details['delivery_time_s']:.0f} s, at first after " \
               f"{finding.first_delivery_s:.0f} s"  # fmt: skip
    return finding.cause.label
