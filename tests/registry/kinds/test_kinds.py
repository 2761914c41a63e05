"""The table of record kinds: complete, and strict about what each may hold."""

import pytest

from registry.kinds import KINDS, DetailsError, check_details, entered_by_hand

DRAIN_DOWN = {
    "nitrogen_before_opening": "yes",
    "regulator_above_system": "yes",
    "flow_until_empty": "unknown",
    "one_drain_at_a_time": "yes",
    "extent": "whole",
}


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.code)
def test_every_kind_has_a_label_and_unique_field_names(kind):
    names = [field.name for field in kind.fields]
    assert kind.label
    assert len(names) == len(set(names))


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.code)
def test_every_quantity_says_its_dimension_and_its_unit_in_the_name(kind):
    units = ("_pa", "_m", "_mm", "_m2", "_m3", "_k", "_s", "_kg")
    for field in kind.fields:
        if field.type == "quantity":
            assert field.dimension
            assert field.name.endswith(units)


def test_details_lose_empty_answers_and_keep_the_rest():
    details = check_details(KINDS["event.drain_down"], {**DRAIN_DOWN, "regulator_gauge_pa": None})
    assert details == DRAIN_DOWN


def test_a_missing_answer_is_named_with_what_it_is_for():
    with pytest.raises(DetailsError) as error:
        check_details(KINDS["reading.gas"], {"where": "Vent 3"})
    assert error.value.problems == {"n2_percent": "Nitrogen: needed for gas reading."}


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (101.0, "above 100"),
        (-1, "below 0"),
        ("98", "not a number"),
        (float("nan"), "not a number"),
        (float("inf"), "above 100"),
        (True, "not a number"),
    ],
)
def test_a_percentage_must_be_a_number_between_zero_and_a_hundred(value, said):
    with pytest.raises(DetailsError, match=said):
        check_details(KINDS["reading.gas"], {"n2_percent": value})


def test_an_answer_outside_the_choices_is_refused_with_the_choices():
    with pytest.raises(DetailsError, match="yes, no, unknown"):
        check_details(KINDS["event.drain_down"], {**DRAIN_DOWN, "flow_until_empty": "maybe"})


@pytest.mark.parametrize("day", ["soon", "30/06/2026", "2026-06-31", 20260630])
def test_what_is_no_day_is_refused_and_says_how_to_write_one(day):
    with pytest.raises(DetailsError, match="is not a day; write it as year-month-day"):
        check_details(KINDS["request.inerting"], {"wanted_by": day})


def test_a_field_the_kind_does_not_have_is_refused():
    with pytest.raises(DetailsError, match="has no such field"):
        check_details(KINDS["event.fire"], {"colour": "red"})


def test_a_trip_cannot_be_chosen_for_a_wet_system():
    assert "event.trip" not in {kind.code for kind in entered_by_hand("wet")}
    assert "event.trip" in {kind.code for kind in entered_by_hand("dry")}


def test_steps_of_a_run_and_register_facts_are_never_entered_by_hand():
    offered = {kind.group for kind in entered_by_hand("dry")}
    assert offered == {"event", "reading", "request"}
