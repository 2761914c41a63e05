"""Did a drain-down keep the nitrogen in? Four steps, each done, left out or not known.

The procedure is common practice, no source: connect nitrogen before any drain is opened, regulate
it above system pressure, keep it flowing until the water is out, open one drain at a time.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Outcome = Literal["kept", "in_doubt", "broken"]

STEPS = {
    "nitrogen_before_opening": "nitrogen connected before a drain was opened",
    "regulator_above_system": "regulator set above system pressure",
    "flow_until_empty": "nitrogen flowing until all water was out",
    "one_drain_at_a_time": "one drain open at a time",
}


@dataclass(frozen=True, slots=True)
class Judgement:
    outcome: Outcome
    reason: str
    steps: tuple[str, ...] = ()  # those that were left out, or are not known


def judge(details: Mapping[str, Any]) -> Judgement:
    """One step left out lets air in; one not known leaves doubt; all four keep nitrogen."""
    answers = {step: _answer(step, details) for step in STEPS}
    if broken := _steps(answers, "no"):
        return Judgement("broken", f"Drained without: {_named(broken)}.", broken)
    if unknown := _steps(answers, "unknown"):
        return Judgement("in_doubt", f"Drained; not known: {_named(unknown)}.", unknown)
    return Judgement("kept", "Drained with nitrogen flowing throughout: the nitrogen stayed in.")


def _answer(step: str, details: Mapping[str, Any]) -> str:
    """The answer given, held against the pressures written down beside it."""
    given = str(details.get(step) or "unknown")
    if step != "regulator_above_system" or given == "no":
        return given
    regulator, system = details.get("regulator_gauge_pa"), details.get("system_gauge_pa")
    if regulator is None or system is None:
        return given
    if regulator > system:
        return "yes"
    return "no" if given == "unknown" else "unknown"


def _steps(answers: Mapping[str, str], wanted: str) -> tuple[str, ...]:
    return tuple(step for step, answer in answers.items() if answer == wanted)


def _named(steps: tuple[str, ...]) -> str:
    return ", ".join(STEPS[step] for step in steps)
