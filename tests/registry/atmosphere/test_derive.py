from dataclasses import replace
from datetime import timedelta

from registry.atmosphere import LedgerItem, SystemFacts, confirming_due, derive, effects_of
from tests.registry.atmosphere.ledgers import (
    AIR,
    WET,
    accepted,
    at_end,
    day,
    drain_down,
    head_break,
    item,
    reading,
    story,
)
from tests.restoration import RESTORED

UNDATED = replace(WET, installed_at=None)


def test_a_system_without_records_is_aerated_from_its_installation():
    (span,) = derive(WET, (), day(10))
    assert (span.starts_at, span.state, span.reason_code) == (day(0), "aerated", "never_inerted")
    assert (span.oxygen_low, span.oxygen_mid, span.oxygen_high) == (AIR, AIR, AIR)


def test_a_system_without_installation_date_begins_with_its_first_record():
    assert derive(UNDATED, (head_break(5),), day(10))[0].starts_at == day(5)


def test_a_system_without_date_and_records_has_no_atmosphere_to_tell():
    assert derive(UNDATED, (), day(10)) == ()
    assert confirming_due(UNDATED, ()) == []
    assert effects_of(UNDATED, ()) == {}


def test_records_before_the_installation_date_begin_the_timeline():
    early = replace(WET, installed_at=day(7))
    assert [span.starts_at for span in derive(early, (accepted(3),), day(4))] == [day(3)]
    assert story(early, accepted(3), until=4) == [(3, "inert")]


def test_nothing_is_told_before_the_installation():
    assert derive(replace(WET, installed_at=day(20)), (), day(10)) == ()


def test_records_after_the_horizon_are_left_out():
    assert story(WET, accepted(1), head_break(3), until=2)[-1] == (1, "inert")


def test_records_at_one_instant_count_in_their_sequence():
    assert story(WET, accepted(1, number=1), head_break(1, 2), until=2) == [
        (0, "aerated"),
    ]
    assert story(WET, head_break(1, 1), accepted(1, number=2), until=2) == [
        (0, "aerated"),
        (1, "inert"),
    ]


def test_records_at_one_instant_leave_one_span():
    spans = derive(WET, (accepted(1, number=1), reading(1, 98.1, 2), reading(1, 98.4, 3)), day(2))
    assert [span.starts_at for span in spans] == [day(0), day(1)]
    assert spans[-1].cause_id == 3


def test_a_backdated_event_rewrites_everything_after_it():
    told = [accepted(1), reading(2, 98.5), reading(31, 98.4)]
    assert story(WET, *told, until=40)[-1] == (1, "inert")
    assert story(WET, *told, head_break(10), until=40)[-1] == (10, "aerated")


def test_a_backdated_acceptance_gives_later_readings_their_meaning():
    told = [reading(2, 98.5), reading(31, 98.4)]
    assert story(WET, *told, until=40) == [(0, "aerated")]
    assert story(WET, *told, accepted(1), until=40)[-1] == (1, "inert")


def test_two_accounts_of_one_drain_down_both_count():
    """Two people recorded it at once; the worse account decides until one is corrected."""
    events = (accepted(1), drain_down(2, 7), drain_down(2, 8, one_drain_at_a_time="no"))
    span = at_end(WET, *events)
    assert (span.state, span.cause_id) == ("aerated", 8)


def test_impairments_and_observations_change_nothing():
    before = derive(WET, (accepted(1),), day(3))
    notes = (
        item("event.impairment_start", 1.2, areas="East wing"),
        item("event.observation", 1.5, text="Hanger loose"),
        item("event.impairment_end", 1.7, **RESTORED),
    )
    assert derive(WET, (accepted(1), *notes), day(3)) == before


def test_an_unknown_kind_of_record_changes_nothing():
    stray = LedgerItem(9, 9, "event.of_a_later_version", day(1.5), {"air_entered": "yes"})
    assert derive(WET, (accepted(1), stray), day(3)) == derive(WET, (accepted(1),), day(3))


def test_deluge_pipe_is_open_and_can_never_be_inert():
    deluge = SystemFacts("deluge", installed_at=day(0))
    (span,) = derive(deluge, (accepted(1), reading(2, 99.0)), day(100))
    assert (span.state, span.reason_code) == ("aerated", "open_nozzles")


def test_antifreeze_pipe_follows_the_rules_of_wet_pipe():
    antifreeze = replace(WET, kind="antifreeze")
    events = (accepted(1), drain_down(2, flow_until_empty="unknown"), reading(3, 98.3))
    assert derive(antifreeze, events, day(9)) == derive(WET, events, day(9))


def test_the_state_goes_back_to_the_first_of_its_neighbours():
    spans = derive(WET, (accepted(1), reading(2, 98.5), drain_down(3)), day(4))
    assert [span.state_since for span in spans] == [day(0), day(1), day(1), day(1)]


def test_a_leap_day_is_a_day_like_any_other():
    leap = day(59)  # 29 February 2024
    assert (leap.month, leap.day) == (2, 29)
    told = story(WET, accepted(58.5), head_break(59.5), until=70)
    assert told[1:] == [(58.5, "inert"), (59.5, "aerated")]


def test_spans_of_other_time_zones_are_the_same_instants():
    from zoneinfo import ZoneInfo

    local = [
        entry._replace(occurred_at=entry.occurred_at.astimezone(ZoneInfo("America/Chicago")))
        for entry in (accepted(1), head_break(2))
    ]
    assert derive(WET, local, day(3)) == derive(WET, (accepted(1), head_break(2)), day(3))


def test_a_horizon_at_the_last_record_still_counts_it():
    assert at_end(WET, accepted(1)).state == "inert"
    assert derive(WET, (accepted(1),), day(1) - timedelta(microseconds=1))[-1].state == "aerated"
