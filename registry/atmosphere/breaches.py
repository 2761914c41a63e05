"""What a breach does to a condition. Air never makes a pipe less aerated than it was."""

from dataclasses import replace

from registry.atmosphere.events import Breach
from registry.atmosphere.types import (
    AERATED,
    AIR,
    IN_DOUBT,
    INERT,
    Condition,
    Oxygen,
    State,
    SystemFacts,
)

ORDER: tuple[State, ...] = (INERT, IN_DOUBT, AERATED)


def state_at(oxygen: float, facts: SystemFacts) -> State:
    """The state that a fraction of oxygen by itself speaks for."""
    if oxygen <= facts.target_oxygen:
        return INERT
    return IN_DOUBT if oxygen < facts.aerated_oxygen else AERATED


def worse(one: State, other: State) -> State:
    return max(one, other, key=ORDER.index)


def after_breach(
    condition: Condition, breach: Breach, facts: SystemFacts, cause_id: int
) -> Condition:
    """The condition once the air is in; `condition` already stands at the instant of the event."""
    if breach.air == "none":
        return condition
    oxygen = _oxygen_after(condition.oxygen, breach)
    state = worse(condition.state, _state_after(condition.state, breach, oxygen, facts))
    admitted = replace(condition, oxygen=oxygen)
    if state != condition.state:
        return admitted.turned(state, breach.code, breach.reason, cause_id)
    if _tells_more(condition, breach):
        return admitted.because(breach.code, breach.reason, cause_id)
    return admitted


def _oxygen_after(oxygen: Oxygen, breach: Breach) -> Oxygen:
    if breach.air == "all":
        return Oxygen.exactly(AIR)
    if breach.air == "some":
        return oxygen.presumably_air()
    if breach.air == "perhaps":
        return oxygen.perhaps_air()
    return oxygen.mixed_with_air(breach.share)


def _state_after(state: State, breach: Breach, oxygen: Oxygen, facts: SystemFacts) -> State:
    if breach.air == "share":
        return state_at(oxygen.mid, facts) if breach.share > 0 else state
    return {"kept": state, "perhaps": IN_DOUBT}.get(breach.air, AERATED)


def _tells_more(condition: Condition, breach: Breach) -> bool:
    """Whether the record explains the unchanged state better than what stands there now.

    An inert pipe is best explained by the last thing that kept it so. Otherwise the first cause
    stays, so that one follow-up answers it; a state without a cause on record takes this one, if
    it could have brought the state about.
    """
    if condition.state == INERT:
        return True
    doubted = breach.air == "perhaps" and condition.state == IN_DOUBT
    return condition.cause_id is None and (doubted or breach.lets_air_in)
