"""What each event says about the air: judged from its own answers, whatever the state before.

The rules are common practice, no source. Gas pressure that falls but stays above the atmosphere's
lets no air in; for a leak the person who saw it is asked, and no answer leaves doubt.
"""

import math
from dataclasses import dataclass
from typing import Literal

from registry.atmosphere.drain_down import judge as judge_drain_down
from registry.atmosphere.types import LedgerItem, SystemFacts

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


def _shared(code: str, what: str, share: float) -> Breach:
    if share <= 0:
        return Breach("kept", code, f"{what}: no air came in.")
    return Breach("share", code, f"{what}: {100 * share:.3g} % of the gas replaced by air.", share)


def _replaced(item: LedgerItem) -> float | None:
    percent = item.number("replaced_percent")
    return None if percent is None else percent / 100.0


def drain_down(item: LedgerItem, facts: SystemFacts) -> Breach:
    judged = judge_drain_down(item.details)
    air: dict[str, Air] = {"kept": "kept", "in_doubt": "perhaps", "broken": "some"}
    return Breach(air[judged.outcome], f"drain_down.{judged.outcome}", judged.reason)


def trip(item: LedgerItem, facts: SystemFacts) -> Breach:
    return Breach("all", "trip", "The valve tripped: water drove out the gas and air follows it.")


def head_break(item: LedgerItem, facts: SystemFacts) -> Breach:
    return Breach("some", "head_break", "A sprinkler opened: air came in when the flow ended.")


def fire(item: LedgerItem, facts: SystemFacts) -> Breach:
    return Breach("all", "fire", "The system operated in a fire: the pipe was opened to the air.")


def _air_entered(item: LedgerItem, code: str, what: str) -> Breach | None:
    """The share when it is given, else the plain answer; None when neither settles it."""
    share = _replaced(item)
    if share is not None:
        return _shared(code, what, share)
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
    share, opened = _replaced(item), item.answer("pipe_opened")
    if share is not None:
        return _shared("repair", "Repair", share)
    covered = item.answer("under_nitrogen")
    if opened == "no":
        return Breach("kept", "repair", "Repair: the pipe was not opened.")
    if covered == "yes":
        return Breach("kept", "repair", "Repair: nitrogen kept flowing while the pipe was open.")
    if opened == "yes" and covered == "no":
        return Breach("some", "repair", "Repair: the pipe was open to the air without nitrogen.")
    missing = "was opened" if opened == "unknown" else "stood under nitrogen while open"
    return Breach("perhaps", "repair", f"Repair: it is not known whether the pipe {missing}.")


def water_fill(item: LedgerItem, facts: SystemFacts) -> Breach:
    if item.answer("gas_before") == "air":
        return Breach("some", "water_fill", "Filled with water over air: the pipe held air before.")
    if facts.is_gas_filled:
        flooded = "Gas-filled pipe was flooded: what follows the water when it drains is not known."
        return Breach("perhaps", "water_fill", flooded)
    return Breach("kept", "water_fill", "Filled with water: it brings its own dissolved oxygen.")


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
    share, rise = _replaced(item), item.number("rise_pa")
    if share is None and rise is not None:
        share = -math.expm1(-rise / facts.service_pressure_pa)
    if share is not None:
        return _shared("air_makeup", "Pressure made up with air", share)
    doubt = "Pressure was made up with air: it is not known how much."
    return Breach("perhaps", "air_makeup", doubt)
