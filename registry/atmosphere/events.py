"""What each event says about the air: judged from its own answers, whatever the state before.

The rules are common practice, no source. Gas pressure that falls but stays above the atmosphere's
lets no air in; for a leak the person who saw it is asked, and no answer leaves doubt.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

from registry.atmosphere.drain_down import Judgement
from registry.atmosphere.drain_down import judge as judge_drain_down
from registry.atmosphere.types import IN_DOUBT, INERT, Condition, LedgerItem, Oxygen, SystemFacts

Air = Literal["none", "kept", "perhaps", "share", "some", "all"]


@dataclass(frozen=True, slots=True)
class Breach:
    """How much air an event let in.

    "none": nothing to do with it; "kept": it might have, and did not; "perhaps": not known;
    "share": that share of the gas; "some": not known how much; "all": the whole pipe.
    """

    air: Air
    code: str = ""
    reason: str = ""
    share: float = 0.0

    @property
    def lets_air_in(self) -> bool:
        return self.air in ("some", "all") or (self.air == "share" and self.share > 0)


NOTHING = Breach("none")


def shared(code: str, what: str, share: float) -> Breach:
    if share <= 0:
        return Breach("kept", code, f"{what}: no air came in.")
    return Breach("share", code, f"{what}: {100 * share:.3g} % of the gas replaced by air.", share)


def replaced_share(item: LedgerItem) -> float | None:
    percent = item.number("replaced_percent")
    return None if percent is None else percent / 100.0


def _by_steps(judged: Judgement) -> Breach:
    air: dict[str, Air] = {"kept": "kept", "in_doubt": "perhaps", "broken": "some"}
    return Breach(air[judged.outcome], f"drain_down.{judged.outcome}", judged.reason)


def drain_down(item: LedgerItem, facts: SystemFacts) -> Breach:
    """Of a part that was drained only the drained share can have taken air."""
    judged = judge_drain_down(item.details)
    if item.answer("extent") != "part" or judged.outcome != "broken":
        return _by_steps(judged)
    code, said = "drain_down.part", judged.reason.removeprefix("Drained ").rstrip(".")
    share = drained_share(item, facts)
    if share is None:
        doubt = f"Part was drained {said}: how much of the pipe took air is not known."
        return Breach("perhaps", code, doubt)
    return shared(code, f"Part was drained {said}", share)


def drained_share(item: LedgerItem, facts: SystemFacts) -> float | None:
    """Drained water over the volume of the system; None where either is not known."""
    drained = item.number("drained_m3")
    return min(1.0, drained / facts.volume_m3) if drained is not None and facts.volume_m3 else None


def drained_under_cover(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    return replace(condition, is_drained_under_cover=drain_down(item, facts).air == "kept")


def filled_with_water(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    return replace(condition, is_drained_under_cover=False)


def antifreeze_exchange(item: LedgerItem, facts: SystemFacts) -> Breach:
    return _by_steps(judge_drain_down(item.details))


def trip(item: LedgerItem, facts: SystemFacts) -> Breach:
    """A partial trip lets tens of litres in, and what follows them out is what counts; a full one
    drives out the gas. Where nobody said which, it is taken as full."""
    if item.answer("cause") == "operation":
        return Breach("all", "trip", "The valve tripped in a fire, and sprinklers opened.")
    if item.answer("scope") == "partial":
        return _partial_trip(item, facts)
    if item.answer("scope") == "full" and item.answer("cover") == "nitrogen":
        doubt = "Full trip; nitrogen followed the water out, and no reading shows how much is left."
        return Breach("perhaps", "trip.covered", doubt)
    return Breach("all", "trip", "The valve tripped: water drove out the gas and air follows it.")


def _partial_trip(item: LedgerItem, facts: SystemFacts) -> Breach:
    code, share = "trip.partial", drained_share(item, facts)
    if item.answer("recharge") == "air":
        return Breach("some", code, "Partial trip, recharged with air.")
    if item.answer("cover") == "nitrogen" and item.answer("recharge") == "nitrogen":
        kept = "Partial trip: nitrogen followed the water out and recharged the pipe."
        return Breach("kept", code, kept)
    if share is None:
        return Breach("perhaps", code, "Partial trip: how much water was drained is not known.")
    if item.answer("recharge") != "nitrogen":
        doubt = "Partial trip: what the pipe was recharged with is not known."
        return Breach("perhaps", code, doubt)
    return shared(code, "Partial trip, recharged with nitrogen", share)


def recharged_after_trip(condition: Condition, item: LedgerItem, facts: SystemFacts) -> Condition:
    """Nitrogen pumped in over what the water left: absolute pressures, full mixing."""
    if item.answer("scope") != "partial" or item.answer("recharge") != "nitrogen":
        return condition
    if item.answer("cover") != "nitrogen" and drained_share(item, facts) is None:
        return condition
    left = facts.atmosphere_pa / facts.service_pressure_pa
    n2 = facts.supply_n2_percent or facts.policy.cylinder_n2_percent
    feed = (100.0 - n2) / 100.0
    low, mid, high = (
        y * left + feed * (1 - left)
        for y in (condition.oxygen.low, condition.oxygen.mid, condition.oxygen.high)
    )
    return replace(condition, oxygen=Oxygen(low, mid, high))


def head_break(item: LedgerItem, facts: SystemFacts) -> Breach:
    return Breach("some", "head_break", "A sprinkler opened: air came in when the flow ended.")


def fire(item: LedgerItem, facts: SystemFacts) -> Breach:
    return Breach("all", "fire", "The system operated in a fire: the pipe was opened to the air.")


def _air_entered(item: LedgerItem, code: str, what: str) -> Breach | None:
    """The share when it is given, else the plain answer; None when neither settles it."""
    share = replaced_share(item)
    if share is not None:
        return shared(code, what, share)
    answer = item.answer("air_entered")
    if answer == "yes":
        return Breach("some", code, f"{what}: air came in.")
    return Breach("kept", code, f"{what}: no air came in.") if answer == "no" else None


def leak(item: LedgerItem, facts: SystemFacts) -> Breach:
    settled = _air_entered(item, "leak", "Leak")
    return settled or Breach("perhaps", "leak", "Leak: it is not known whether air came in.")


def gas_loss(item: LedgerItem, facts: SystemFacts) -> Breach:
    settled = _air_entered(item, "gas_loss", "Gas pressure was lost")
    if settled:
        return settled
    if (item.number("to_gauge_pa") or 0.0) > 0:
        kept = "Gas pressure fell but stayed above the air outside: none came in."
        return Breach("kept", "gas_loss", kept)
    doubt = "Gas pressure was lost: it is not known whether air came in."
    return Breach("perhaps", "gas_loss", doubt)


def repair(item: LedgerItem, facts: SystemFacts) -> Breach:
    share, opened = replaced_share(item), item.answer("pipe_opened")
    if share is not None:
        return shared("repair", "Repair", share)
    covered = item.answer("under_nitrogen")
    if opened == "no":
        return Breach("kept", "repair", "Repair: the pipe was not opened.")
    if covered == "yes":
        return Breach("kept", "repair", "Repair: nitrogen kept flowing while the pipe was open.")
    if opened == "yes" and covered == "no":
        return Breach("some", "repair", "Repair: the pipe was open to the air without nitrogen.")
    missing = "was opened" if opened == "unknown" else "stood under nitrogen while open"
    return Breach("perhaps", "repair", f"Repair: it is not known whether the pipe {missing}.")


def opened_without_drain_down(
    condition: Condition, item: LedgerItem, facts: SystemFacts
) -> Condition:
    """Wet pipe opened “under nitrogen” must have been drained first, and under nitrogen too."""
    says_covered = repair(item, facts).air == "kept" and item.answer("pipe_opened") != "no"
    is_asked = says_covered and item.answer("under_nitrogen") == "yes"
    if not is_asked or replaced_share(item) is not None:
        return condition
    return turned_without_drain_down(condition, item, facts)


def turned_without_drain_down(
    condition: Condition, item: LedgerItem, facts: SystemFacts
) -> Condition:
    if facts.is_gas_filled or condition.state != INERT or condition.is_drained_under_cover:
        return condition
    code = f"{item.kind.rpartition('.')[2]}.no_drain_down"
    doubt = "Opened under nitrogen, and no drain-down under nitrogen is on record: log it."
    return condition.turned(IN_DOUBT, code, doubt, item.id)


def water_fill(item: LedgerItem, facts: SystemFacts) -> Breach:
    if item.answer("gas_before") == "air":
        return Breach("some", "water_fill", "Filled with water over air: the pipe held air before.")
    if facts.is_gas_filled:
        flooded = "Gas-filled pipe was flooded: what follows the water when it drains is not known."
        return Breach("perhaps", "water_fill", flooded)
    if item.answer("gas_before") != "nitrogen":
        doubt = "Filled with water: which gas was in the pipe before is not known."
        return Breach("perhaps", "water_fill", doubt)
    kept = "Filled with water over nitrogen: it brings its own dissolved oxygen."
    return Breach("kept", "water_fill", kept)


def test_flow(item: LedgerItem, facts: SystemFacts) -> Breach:
    return Breach("kept", "test_flow", "Water ran through: it brings its own dissolved oxygen.")


def hydrostatic_test(item: LedgerItem, facts: SystemFacts) -> Breach:
    """What was there before is squeezed and stays; what follows the water out decides the rest."""
    code, gas, drained = "hydrostatic_test", item.answer("gas_before"), item.answer("drained")
    if gas == "air":
        return Breach("some", code, "Tested with water over air: the pipe held air before.")
    if drained == "to_air":
        return Breach("some", code, "Tested with water and drained without nitrogen: air followed.")
    if facts.is_gas_filled and drained == "not_drained":
        flooded = "Tested with water, which still fills the pipe: what will follow it is not known."
        return Breach("perhaps", code, flooded)
    if gas == "unknown" or drained == "unknown":
        missing = "gas was there before" if gas == "unknown" else "followed the water out"
        return Breach("perhaps", code, f"Tested with water: it is not known what {missing}.")
    kept = "Tested with water over nitrogen, and no air followed the water."
    return Breach("kept", code, kept)


def air_makeup(item: LedgerItem, facts: SystemFacts) -> Breach:
    """Made up at constant pressure, air replaces 1 - exp(-rise / P) of the gas of a mixed pipe."""
    share, rise = replaced_share(item), item.number("rise_pa")
    if share is None and rise is not None:
        share = -math.expm1(-rise / facts.service_pressure_pa)
    if share is not None:
        return shared("air_makeup", "Pressure made up with air", share)
    doubt = "Pressure was made up with air: it is not known how much."
    return Breach("perhaps", "air_makeup", doubt)


def freeze(item: LedgerItem, facts: SystemFacts) -> Breach:
    """The plug lets nothing in while it lasts; nobody sees what it does on thawing."""
    if item.answer("found") == "burst":
        return Breach("some", "freeze", "Pipe froze and burst: air follows the water.")
    if item.answer("found") == "frozen":
        doubt = "Water froze in the pipe: whether it holds when it thaws is not known."
        return Breach("perhaps", "freeze", doubt)
    return Breach("perhaps", "freeze", "Pipe may have frozen: whether it burst is not known.")


def pneumatic_test(item: LedgerItem, facts: SystemFacts) -> Breach:
    """Air to 40 psig over 98 % nitrogen leaves 15.9 % oxygen: (2 x 14.7 + 20.95 x 40) / 54.7."""
    if item.answer("gas") == "air":
        return Breach("some", "pneumatic_test", "Tested with compressed air.")
    if item.answer("gas") == "nitrogen":
        return Breach("kept", "pneumatic_test", "Tested with nitrogen: no air came in.")
    return Breach("perhaps", "pneumatic_test", "Tested with gas: which gas is not known.")


def generator_bypass(item: LedgerItem, facts: SystemFacts) -> Breach:
    code, used = "generator_bypass", item.answer("bypass_used")
    if used == "yes":
        swept = "Filled with air past the generator: full of air until it is swept."
        return Breach("some", code, swept)
    if used == "no":
        return Breach("kept", code, "Filled fast, and not through the bypass: no air came in.")
    return Breach("perhaps", code, "Filled fast: whether air went past the generator is not known.")


def vent_work(item: LedgerItem, facts: SystemFacts) -> Breach:
    """Stuck shut it lets nothing in, though it no longer lets trapped gas out."""
    code, left = "vent_work", item.answer("left_as")
    if left == "stuck_open":
        return Breach("perhaps", code, "A vent was left stuck open: it lets air in when it drains.")
    if item.answer("isolated") == "yes" and left in ("works", "stuck_shut"):
        return Breach("kept", code, "A vent was worked on behind its own valve: no air came in.")
    if item.answer("isolated") == "no":
        return Breach("perhaps", code, "Drained for a vent: log how, for nobody said that it kept.")
    return Breach("perhaps", code, "Work on a vent: it is not known whether air came in.")


def valve_leaks_through(item: LedgerItem, facts: SystemFacts) -> Breach:
    """The column squeezes the gas and brings its own dissolved oxygen; no air comes with it."""
    kept = "Water leaked past the valve: it squeezes the gas, and no air came in."
    return Breach("kept", "valve_leaks_through", kept)


def told(item: LedgerItem, facts: SystemFacts) -> Breach:
    """Nobody has confirmed it, so it may have let air in, whatever was told."""
    return Breach("perhaps", "told", "Told at the sign and not confirmed: air may have come in.")
