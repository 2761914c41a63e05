from dataclasses import replace

from registry.atmosphere import Feed, LedgerItem
from registry.atmosphere.feeds import first_feed
from tests.registry.atmosphere.ledgers import (
    COMPRESSOR,
    CYLINDERS,
    GENERATOR,
    UNREAD,
    accepted,
    at_end,
    day,
    item,
    story,
)


def amended(at, **changes):
    """Each change as the register writes it: from what, to what."""
    details = {name: {"from": old, "to": new} for name, (old, new) in changes.items()}
    return LedgerItem(round(at * 100), round(at * 100), "register.amended", day(at), details)


def makeup(at, now, rise_pa=100.0):
    return item("event.air_makeup", at, now=now, rise_pa=rise_pa)


def test_a_compressor_put_on_undoes_the_inerting_in_weeks():
    quiet = replace(GENERATOR, policy=UNREAD)
    change = amended(10, gas_supply=("generator", "compressor"))
    told = story(replace(quiet, gas_supply="compressor"), accepted(1), change, until=90)
    assert [state for _, state in told] == ["aerated", "inert", "in_doubt", "aerated"]
    assert told[2][0] < 14 and 30 < told[3][0] < 45


def test_the_supply_before_a_change_is_what_it_was_changed_from():
    changes = [
        amended(5, gas_supply=("compressor", "generator"), supply_n2_percent=(None, 98.5)),
        amended(9, supply_n2_percent=(98.5, 99.5)),
    ]
    assert first_feed(GENERATOR, changes) == Feed("compressor", 98.5)


def test_a_supply_filled_in_for_the_first_time_had_been_there_before():
    assert first_feed(COMPRESSOR, [amended(5, gas_supply=("unknown", "compressor"))]) == Feed(
        "compressor"
    )


def test_other_amendments_leave_the_supply_alone():
    fitting = LedgerItem(3, 3, "register.amended", day(3), {"fitting": {"kind": "vent"}})
    assert at_end(GENERATOR, accepted(1), fitting).feed == Feed("generator", 99.0)
    assert first_feed(GENERATOR, [fitting]) == Feed("generator", 99.0)


def test_a_compressor_left_connected_goes_on_making_up_air():
    assert at_end(CYLINDERS, accepted(1), makeup(2, "on")).feed == Feed("compressor")
    for now in ("off", "unknown"):
        assert at_end(CYLINDERS, accepted(1), makeup(2, now)).feed == Feed("cylinders", 99.9)


def test_shutting_the_compressor_off_gives_the_pipe_back_to_its_usual_supply():
    span = at_end(CYLINDERS, accepted(1), makeup(2, "on"), makeup(3, "off"))
    assert span.feed == Feed("cylinders", 99.9)


def test_a_system_on_a_compressor_has_no_supply_once_that_is_shut_off():
    assert at_end(COMPRESSOR, accepted(1), makeup(2, "off")).feed == Feed("none")
