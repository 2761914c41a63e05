"""Is protection back? Five facts, each yes, no or not known; one that is missing leaves it out.

After NFPA 25 15.7 and the practice of drain tests (from memory and public restatements: verify
against the adopted edition). The gas in the pipe is none of them.
"""

from collections.abc import Mapping
from typing import Any

from registry.protection.types import Verdict

FACTS = {
    "water_filled": "pipe filled as in service",
    "valves_open": "control valves open and secured",
    "tested": "drain test done or pressure seen",
    "signals_back": "alarm and supervision back",
    "notified": "everybody told",
}
WORKING = ("water_filled", "valves_open", "tested", "signals_back")
"""Those without which the sprinklers may not work, whoever was told."""


def verdict(details: Mapping[str, Any], *, ends: str) -> Verdict:
    def with_answer(answer: str | None) -> tuple[str, ...]:
        return tuple(fact for fact in FACTS if (details.get(fact) or None) == answer)

    refused, unsure, unasked = with_answer("no"), with_answer("unknown"), with_answer(None)
    return Verdict(
        "restores",
        code="restored" if not (refused or unsure) else "not_restored",
        reason=_reason(refused, unsure, unasked),
        ends=ends,
        refused=refused,
        unsure=unsure,
        unasked=unasked,
    )


def _reason(refused: tuple[str, ...], unsure: tuple[str, ...], unasked: tuple[str, ...]) -> str:
    if refused or unsure:
        return "Not restored: " + "; ".join(_parts(refused, unsure)) + "."
    if unasked:
        return f"Said to be restored; nobody was asked: {_named(unasked)}."
    return "Restored: filled, valves open, tested, alarms back, everybody told."


def _parts(refused: tuple[str, ...], unsure: tuple[str, ...]) -> list[str]:
    parts = [f"no: {_named(refused)}"] if refused else []
    return [*parts, f"not known: {_named(unsure)}"] if unsure else parts


def _named(facts: tuple[str, ...]) -> str:
    return ", ".join(FACTS[fact] for fact in facts)
