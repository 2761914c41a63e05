"""Every kind of event and each answer that changes what follows: the table of the trade.

Each row begins with wet or dry pipe of 2 m3 that an accepted run left at 98 % nitrogen and that is
stated to be in service. `source`: P common practice, no source; C computed, by hand in a comment;
S NFPA 25 15.6.1 as a college's safety office restates it. Where a row says "perhaps", the trade
says "keep or ask", and the program asks.
"""

from dataclasses import replace
from typing import NamedTuple

import pytest

from registry.atmosphere import derive as derive_gas
from registry.kinds import KINDS
from registry.protection import derive as derive_protection
from tests.registry.atmosphere.ledgers import DRY, UNREAD, WET, accepted, day, item
from tests.restoration import RESTORED

PIPES = {
    "wet": replace(WET, volume_m3=2.0, policy=UNREAD),
    "dry": replace(DRY, volume_m3=2.0, policy=UNREAD),
    "antifreeze": replace(WET, kind="antifreeze", volume_m3=2.0, policy=UNREAD),
}
STEPS = (
    "nitrogen_before_opening",
    "regulator_above_system",
    "flow_until_empty",
    "one_drain_at_a_time",
)
KEPT = dict.fromkeys(STEPS, "yes")
OPEN = KEPT | {"flow_until_empty": "no"}
UNSURE = KEPT | {"flow_until_empty": "unknown"}
TRIP = {"drained_after": "yes"}
LEAK = {"form": "joint", "through": "water"}
WORK = {"work": "Tee"}
TEST = {"held": "yes"}


class Row(NamedTuple):
    kind: str
    pipe: str
    answers: dict
    state: str
    protection: str
    reason: str
    source: str = "P"


def _partial(**answers):
    return TRIP | {"cause": "test", "scope": "partial"} | answers


TABLE = [
    Row("drain_down", "wet", KEPT | {"extent": "whole"}, "inert", "impaired", "throughout"),
    Row("drain_down", "wet", OPEN | {"extent": "whole"}, "aerated", "impaired", "without"),
    Row("drain_down", "wet", UNSURE | {"extent": "whole"}, "in_doubt", "impaired", "not known"),
    Row("drain_down", "wet", KEPT | {"extent": "part"}, "inert", "impaired", "throughout"),
    Row("drain_down", "wet", OPEN | {"extent": "part"}, "in_doubt", "impaired", "Part was"),
    # 0.2 of 2 m3 is a tenth: 2 + 0.1 (20.95 - 2) = 3.9 % oxygen, between 2 and half of air's.
    Row("drain_down", "wet", OPEN | {"extent": "part", "drained_m3": 0.2}, "in_doubt", "impaired",
        "10 %", "C"),
    Row("drain_down", "wet", OPEN | {"extent": "part", "drained_m3": 1.8}, "aerated", "impaired",
        "90 %", "C"),
    Row("trip", "dry", TRIP | {"cause": "test", "scope": "full"}, "aerated", "impaired", "trip"),
    Row("trip", "dry", TRIP | {"cause": "test"}, "aerated", "impaired", "tripped"),
    Row("trip", "dry", TRIP | {"cause": "test", "scope": "full", "cover": "nitrogen"}, "in_doubt",
        "impaired", "nitrogen followed"),
    Row("trip", "dry", TRIP | {"cause": "false"}, "aerated", "impaired", "tripped"),
    Row("trip", "dry", TRIP | {"cause": "operation"}, "aerated", "impaired", "in a fire"),
    Row("trip", "dry", TRIP | {"cause": "unknown"}, "aerated", "impaired", "tripped"),
    Row("trip", "dry", _partial(), "in_doubt", "impaired", "how much water"),
    Row("trip", "dry", _partial(drained_m3=0.05), "in_doubt", "impaired", "recharged with"),
    # 0.05 of 2 m3: 2 + 0.025 (20.95 - 2) = 2.5 % oxygen before the recharge.
    Row("trip", "dry", _partial(drained_m3=0.05, recharge="nitrogen"), "in_doubt", "impaired",
        "2.5 %", "C"),
    Row("trip", "dry", _partial(cover="nitrogen", recharge="nitrogen"), "inert", "impaired",
        "nitrogen followed"),
    Row("trip", "dry", _partial(drained_m3=0.05, recharge="air"), "aerated", "impaired", "air"),
    Row("head_break", "wet", {"count": 1}, "aerated", "impaired", "sprinkler", "S"),
    Row("head_break", "dry", {"count": 2}, "aerated", "impaired", "sprinkler", "S"),
    Row("fire", "wet", {}, "aerated", "impaired", "fire"),
    Row("leak", "wet", LEAK | {"air_entered": "no", "out_of_service": "no"}, "inert",
        "in_service", "no air"),
    Row("leak", "wet", LEAK | {"air_entered": "no", "out_of_service": "yes"}, "inert", "impaired",
        "no air"),
    Row("leak", "wet", LEAK | {"air_entered": "yes"}, "aerated", "not_known", "air came in"),
    Row("leak", "wet", LEAK | {"air_entered": "unknown"}, "in_doubt", "not_known", "not known"),
    Row("repair", "wet", WORK | {"pipe_opened": "no", "under_nitrogen": "no"}, "inert",
        "in_service", "not opened"),
    Row("repair", "wet", WORK | {"pipe_opened": "yes", "under_nitrogen": "yes"}, "in_doubt",
        "impaired", "no drain-down"),
    Row("repair", "dry", WORK | {"pipe_opened": "yes", "under_nitrogen": "yes"}, "inert",
        "impaired", "kept flowing"),
    Row("repair", "wet", WORK | {"pipe_opened": "yes", "under_nitrogen": "no"}, "aerated",
        "impaired", "without nitrogen"),
    Row("repair", "wet", WORK | {"pipe_opened": "yes", "under_nitrogen": "unknown"}, "in_doubt",
        "impaired", "not known"),
    Row("repair", "wet", WORK | {"pipe_opened": "unknown", "under_nitrogen": "no"}, "in_doubt",
        "not_known", "not known"),
    Row("water_fill", "wet", {"gas_before": "nitrogen"}, "inert", "in_service", "over nitrogen"),
    Row("water_fill", "wet", {"gas_before": "air"}, "aerated", "in_service", "over air"),
    Row("water_fill", "wet", {"gas_before": "unknown"}, "in_doubt", "in_service", "not known"),
    Row("water_fill", "dry", {"gas_before": "nitrogen"}, "in_doubt", "in_service", "flooded"),
    Row("test_flow", "wet", {"through": "main_drain"}, "inert", "in_service", "ran through"),
    Row("test_flow", "wet", {"through": "inspector_test"}, "inert", "in_service", "ran through"),
    Row("hydrostatic_test", "wet", TEST | {"gas_before": "nitrogen", "drained": "not_drained"},
        "inert", "impaired", "over nitrogen"),
    Row("hydrostatic_test", "dry", TEST | {"gas_before": "nitrogen", "drained": "to_air"},
        "aerated", "impaired", "air followed"),
    Row("hydrostatic_test", "wet", TEST | {"gas_before": "unknown", "drained": "not_drained"},
        "in_doubt", "impaired", "not known"),
    Row("gas_loss", "dry", {"to_gauge_pa": 0.0, "air_entered": "yes"}, "aerated", "not_known",
        "air came in"),
    Row("gas_loss", "dry", {"to_gauge_pa": 0.0, "air_entered": "unknown"}, "in_doubt",
        "not_known", "not known"),
    Row("gas_loss", "dry", {"to_gauge_pa": 5e4, "air_entered": "unknown"}, "inert", "not_known",
        "stayed above"),
    Row("air_makeup", "dry", {"now": "off"}, "in_doubt", "in_service", "how much"),
    Row("impairment_start", "wet", {"areas": "Bay 1"}, "inert", "impaired", "accepted", "S"),
    Row("impairment_end", "wet", RESTORED, "inert", "in_service", "accepted"),
    Row("impairment_end", "wet", RESTORED | {"valves_open": "no"}, "inert", "impaired", "accepted"),
    Row("impairment_end", "wet", RESTORED | {"notified": "unknown"}, "inert", "not_known",
        "accepted"),
    Row("valve_closed", "wet", {"valve": "CV-1"}, "inert", "impaired", "accepted"),
    Row("freeze", "wet", {"found": "frozen"}, "in_doubt", "impaired", "froze", "S"),
    Row("freeze", "wet", {"found": "burst"}, "aerated", "impaired", "burst", "S"),
    Row("freeze", "wet", {"found": "unknown"}, "in_doubt", "not_known", "may have"),
    Row("pneumatic_test", "dry", TEST | {"gas": "air"}, "aerated", "impaired", "air", "C"),
    Row("pneumatic_test", "dry", TEST | {"gas": "nitrogen"}, "inert", "impaired", "nitrogen"),
    Row("pneumatic_test", "dry", TEST | {"gas": "unknown"}, "in_doubt", "impaired", "not known"),
    Row("generator_bypass", "dry", {"bypass_used": "yes", "closed_after": "yes"}, "aerated",
        "in_service", "until it is swept"),
    Row("generator_bypass", "dry", {"bypass_used": "no", "closed_after": "yes"}, "inert",
        "in_service", "not through"),
    Row("generator_bypass", "dry", {"bypass_used": "unknown", "closed_after": "no"}, "in_doubt",
        "in_service", "not known"),
    Row("vent_work", "wet", {"isolated": "yes", "left_as": "works"}, "inert", "in_service",
        "own valve"),
    Row("vent_work", "wet", {"isolated": "yes", "left_as": "stuck_shut"}, "inert", "in_service",
        "own valve"),
    Row("vent_work", "wet", {"isolated": "yes", "left_as": "stuck_open"}, "in_doubt",
        "in_service", "stuck open"),
    Row("vent_work", "wet", {"isolated": "no", "left_as": "works"}, "in_doubt", "impaired", "log"),
    Row("vent_work", "wet", {"isolated": "unknown", "left_as": "works"}, "in_doubt", "not_known",
        "not known"),
    Row("antifreeze_exchange", "antifreeze", KEPT, "inert", "impaired", "throughout"),
    Row("antifreeze_exchange", "antifreeze", OPEN, "aerated", "impaired", "without"),
    Row("antifreeze_exchange", "antifreeze", UNSURE, "in_doubt", "impaired", "not known"),
    Row("valve_leaks_through", "dry", {"drained_after": "yes"}, "inert", "not_known", "squeezes"),
    Row("observation", "wet", {"text": "Rust"}, "inert", "in_service", "accepted"),
]  # fmt: skip


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row.kind}-{row.pipe}-{row.state}")
def test_a_row_of_the_table(row):
    facts = PIPES[row.pipe]
    stated = item("event.impairment_end", 2, **RESTORED)
    event = item(f"event.{row.kind}", 3, **row.answers)
    items = [accepted(1, n2=98.0), stated, event]
    gas = derive_gas(facts, items, day(3.01))[-1]
    assert (gas.state, row.reason in gas.reason) == (row.state, True), gas.reason
    assert derive_protection(facts.installed_at, items)[-1].state == row.protection


def test_every_kind_of_event_is_in_the_table():
    assert {f"event.{row.kind}" for row in TABLE} == {
        code for code in KINDS if code.startswith("event.")
    }


# Absolute pressures, 40 psig over 14.7 psi: (2 + s (20.95 - 2)) x 14.7 / 54.7, pure nitrogen in.
@pytest.mark.parametrize(("drained_m3", "oxygen_percent"), [(0.05, 0.66), (0.2, 1.05)])
def test_the_recharge_after_a_partial_trip_dilutes_what_came_in(drained_m3, oxygen_percent):
    facts = replace(PIPES["dry"], service_pressure_gauge_pa=40 * 6894.757, supply_n2_percent=100.0)
    trip = item("event.trip", 1.001, **_partial(drained_m3=drained_m3, recharge="nitrogen"))
    span = derive_gas(facts, [accepted(1, n2=98.0), trip], day(1.002))[-1]
    assert 100 * span.oxygen_mid == pytest.approx(oxygen_percent, abs=0.03)
