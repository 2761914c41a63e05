"""What inspection, testing and maintenance say about the air, beside the events of `events`.

The rules are common practice, no source. Where only a part was opened, its share of the system
counts; where nobody said how much, it is asked and not guessed.
"""

from registry.atmosphere.events import (
    Breach,
    drained_share,
    replaced_share,
    shared,
    turned_without_drain_down,
)
from registry.atmosphere.types import Condition, LedgerItem, SystemFacts

LITTLE_GAUGE_PA = 3 * 6894.757
"""Supervisory gas of 1 to 3 psi leaves too little to dilute what an opening lets in."""

MANY_OPENINGS = 2  # between two of them a draught moves the air; through one it creeps


def flushing(item: LedgerItem, facts: SystemFacts) -> Breach:
    """The ends are open by definition, and what loosens the scale is fresh water or air."""
    if item.answer("method") == "water_and_air":
        return Breach("some", "flushing", "Flushed with water and compressed air.")
    return Breach("some", "flushing", "Flushed: the ends of the pipe stood open to the air.")


def head_replaced(item: LedgerItem, facts: SystemFacts) -> Breach:
    code, what, how = "head_replaced", "Sprinkler replaced", item.answer("how")
    share, covered = replaced_share(item), item.answer("under_nitrogen")
    if share is None and covered == "yes":
        return Breach("kept", code, f"{what}: nitrogen kept flowing while the pipe was open.")
    if share is None and how == "zone":
        share = _share_of_zone(item, facts)
    if share is not None:
        return shared(code, what, share)
    if how == "zone":
        doubt = f"{what} in a zone shut off: how much of the pipe that is is not known."
        return Breach("perhaps", code, doubt)
    if how == "gas_only" and covered == "no" and _draws_air(item, facts):
        return Breach("some", code, f"{what}: gas was let out, and air followed.")
    if how == "gas_only":
        doubt = f"{what}: gas was let out, and how much air followed is not known."
        return Breach("perhaps", code, doubt)
    return Breach("perhaps", code, f"{what}: log how it was drained, for that decides.")


def _share_of_zone(item: LedgerItem, facts: SystemFacts) -> float | None:
    zone = item.number("zone_m3")
    return min(1.0, zone / facts.volume_m3) if zone is not None and facts.volume_m3 else None


def _draws_air(item: LedgerItem, facts: SystemFacts) -> bool:
    has_many = (item.number("count") or 0) >= MANY_OPENINGS
    service_gauge_pa = facts.service_pressure_pa - facts.atmosphere_pa
    return has_many or service_gauge_pa <= LITTLE_GAUGE_PA


def opened_without_drain_down(
    condition: Condition, item: LedgerItem, facts: SystemFacts
) -> Condition:
    """Of a zone that was shut off no drain-down of the system is on record."""
    is_kept = item.answer("under_nitrogen") == "yes" and replaced_share(item) is None
    says_covered = is_kept and item.answer("how") != "zone"
    return turned_without_drain_down(condition, item, facts) if says_covered else condition


def valve_opened(item: LedgerItem, facts: SystemFacts) -> Breach:
    """The riser is emptied and its cover off; the pipe above may keep what it holds."""
    code, what = "valve_opened", "Valve opened for inspection"
    share = replaced_share(item)
    if share is None and item.answer("under_nitrogen") == "yes":
        return Breach("kept", code, f"{what}: nitrogen kept flowing while it was open.")
    share = drained_share(item, facts) if share is None else share
    if share is not None:
        return shared(code, what, share)
    return Breach("perhaps", code, f"{what}: how much of the pipe took air is not known.")


def supply_test(item: LedgerItem, facts: SystemFacts) -> Breach:
    if item.answer("check_held") == "yes":
        return Breach("kept", "supply_test", "Tested ahead of a check valve, which held.")
    doubt = "Tested ahead of a check valve: whether water passed it is not known."
    if item.answer("check_held") == "no":
        doubt = "Tested ahead of a check valve that leaked: what passed it is not known."
    return Breach("perhaps", "supply_test", doubt)


def pump_starts(item: LedgerItem, facts: SystemFacts) -> Breach:
    kept = "The pump kept up the pressure: its water brings its own dissolved oxygen."
    return Breach("kept", "pump_starts", kept)


def relief_opened(item: LedgerItem, facts: SystemFacts) -> Breach:
    kept = "The relief valve let water out: what follows brings its own dissolved oxygen."
    return Breach("kept", "relief_opened", kept)


def drum_drip(item: LedgerItem, facts: SystemFacts) -> Breach:
    """Gas puffs out while it stands above the air outside, and none comes in."""
    code, both = "drum_drip", item.answer("both_open")
    if both == "no":
        return Breach("kept", code, "A low point was drained valve by valve: no air came in.")
    if both == "yes":
        doubt = "A low point was drained with both valves open: the gas may have blown down."
        return Breach("perhaps", code, doubt)
    doubt = "A low point was drained: whether both valves stood open is not known."
    return Breach("perhaps", code, doubt)


def compressor_work(item: LedgerItem, facts: SystemFacts) -> Breach:
    code, shut = "compressor_work", item.answer("valve_shut")
    if shut == "yes":
        kept = "The compressor was worked on behind a valve that is shut and tagged."
        return Breach("kept", code, kept)
    said = "is not shut" if shut == "no" else "may not be shut"
    doubt = f"The compressor was worked on and its valve {said}: it may be feeding air."
    return Breach("perhaps", code, doubt)


def generator_work(item: LedgerItem, facts: SystemFacts) -> Breach:
    code, feeds = "generator_work", item.answer("feeds")
    if feeds == "nitrogen":
        kept = "The generator was worked on and feeds nitrogen as pure as it should."
        return Breach("kept", code, kept)
    if feeds == "air":
        doubt = "The generator feeds air, or too little nitrogen: for how long is not known."
        return Breach("perhaps", code, doubt)
    doubt = "The generator was worked on, and nobody has read what it feeds since."
    return Breach("perhaps", code, doubt)
