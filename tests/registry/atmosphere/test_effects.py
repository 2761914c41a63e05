import pytest

from registry.atmosphere import LedgerItem, effect_of, effects_of
from tests.registry.atmosphere.ledgers import (
    AIR,
    CYLINDERS,
    GENERATOR,
    WET,
    accepted,
    day,
    drain_down,
    head_break,
    item,
    reading,
    started,
)

DOUBT = drain_down(2, flow_until_empty="unknown")


def effect(facts, *items):
    """What the last of the records did."""
    return effect_of(facts, items, items[-1].id)


@pytest.mark.parametrize(
    ("facts", "items", "code"),
    [
        (WET, (accepted(1),), "made_inert"),
        (WET, (accepted(1), drain_down(2)), "kept"),
        (WET, (accepted(1), DOUBT), "doubt"),
        (WET, (accepted(1), DOUBT, reading(3, 98.5)), "made_inert"),
        (WET, (accepted(1), DOUBT, drain_down(3)), "none"),
        (WET, (accepted(1), reading(2, 98.6)), "kept"),
        (WET, (accepted(1), reading(2, 98.1)), "estimate"),
        (WET, (accepted(1), reading(2, 97.0)), "doubt"),
        (WET, (accepted(1), reading(2, 85.0)), "aerated"),
        (WET, (accepted(1), head_break(2)), "aerated"),
        (WET, (head_break(2),), "none"),
        (WET, (accepted(1), started(2)), "aerated"),
        (WET, (accepted(1), item("event.observation", 2, text="Dry")), "none"),
        (CYLINDERS, (accepted(1), item("event.air_makeup", 2, now="on", rise_pa=0.0)), "supply"),
        (GENERATOR, (reading(2, 98.5),), "doubt"),
    ],
)
def test_each_record_says_what_it_did(facts, items, code):
    assert effect(facts, *items).code == code


def test_the_words_tell_a_reading_from_an_event():
    assert effect(WET, accepted(1), head_break(2)).text == "Let air in: aerated."
    assert effect(WET, accepted(1), reading(2, 85.0)).text == "Showed air in the pipe: aerated."
    assert effect(WET, accepted(1), DOUBT, reading(3, 98.5)).text == "Cleared the doubt: inert."


def test_the_estimate_is_told_before_and_after():
    told = effect(WET, accepted(1), reading(2, 98.1))
    assert (told.oxygen_before, told.oxygen_after) == pytest.approx((0.014, 0.019))
    assert told.text == "Still inert. Raised the oxygen estimate from 1.4 % to 1.9 %."
    told = effect(WET, started(1), reading(2, 93.0))
    assert told.text == (
        "Aerated before and after. Lowered the oxygen estimate from 20.9 % to 7.0 %."
    )


def test_the_estimate_before_counts_the_drift_since_the_last_record():
    quiet = effect(GENERATOR, reading(1, 90.0), item("event.observation", 31, text="Quiet"))
    assert quiet.oxygen_before == quiet.oxygen_after < 0.1
    assert quiet.code == "none"


def test_records_at_one_instant_each_keep_their_effect():
    told = effects_of(WET, (accepted(1, number=1), head_break(1, 2)))
    assert [told[1].code, told[2].code] == ["made_inert", "aerated"]


def test_every_record_has_an_effect():
    items = (accepted(1), DOUBT, reading(3, 98.5), head_break(4))
    assert set(effects_of(WET, items)) == {entry.id for entry in items}


def test_deluge_pipe_is_beyond_every_effect():
    stray = LedgerItem(1, 1, "inerting.accepted", day(1), {"n2_percent": 99.0})
    told = effect_of(type(WET)("deluge", installed_at=day(0)), (stray,), 1)
    assert (told.code, told.oxygen_after) == ("none", AIR)


def test_asking_for_a_record_of_another_system_is_an_error():
    with pytest.raises(KeyError):
        effect_of(WET, (accepted(1),), 12345)
