from dataclasses import replace
from datetime import date

import pytest

from scheduling.library import (
    CONDITIONS,
    Winter,
    editions,
    first_due,
    for_editions,
    items,
    items_for,
    questions_for,
    recurrence_for,
)
from scheduling.library.loading import LibraryError, _load, item_from, read_rows
from scheduling.library.types import SYSTEM_KINDS
from scheduling.recurrence import MonthDay, next_slot, parse_interval

NFPA_2017 = editions()["nfpa25-2017"]
TITLE_19 = editions()["title19-2013"]
FEDERAL = editions()["cfr1910-159"]
NORTH = Winter(MonthDay(10, 31), MonthDay(4, 15))
SOUTH = Winter(MonthDay(4, 30), MonthDay(10, 15))


def chosen(kind, edition=NFPA_2017, conditions=None):
    return {choice.item.key: choice for choice in items_for(kind, edition, conditions)}


def item(key, **facts):
    found = next(row for row in items() if row.key == key and row.interval)
    return replace(found, **facts)


def test_an_item_appears_once_for_every_kind_and_edition():
    for edition in editions().values():
        for kind in SYSTEM_KINDS:
            keys = [choice.item.key for choice in items_for(kind, edition)]
            assert len(keys) == len(set(keys)), (kind, edition.key)


def test_a_wet_system_is_not_asked_for_a_trip_test():
    assert not {"dry-valve-full-trip", "valve-full-trip", "gas-leakage"} & set(chosen("wet"))


def test_what_is_not_known_is_presumed_where_that_asks_for_more():
    main_drain = chosen("wet")["main-drain"]
    assert main_drain.item.interval.rhythm == "quarterly"
    assert main_drain.presumed == "backflow_only_supply"


def test_an_answer_ends_the_presumption_either_way():
    no = chosen("wet", conditions={"backflow_only_supply": False})["main-drain"]
    yes = chosen("wet", conditions={"backflow_only_supply": True})["main-drain"]
    assert (no.item.interval.rhythm, no.presumed) == ("yearly", "")
    assert (yes.item.interval.rhythm, yes.presumed) == ("quarterly", "")


def test_an_exemption_is_never_presumed():
    assert chosen("wet")["internal-assessment"].item.interval is not None
    exempt = chosen("wet", conditions={"pipe_all_plastic": True})["internal-assessment"]
    assert exempt.item.interval is None


def test_an_item_that_nothing_calls_for_is_left_out():
    conditions = {"waterflow_mechanical": False, "waterflow_electric": False}
    assert "waterflow-alarm-test" not in chosen("wet", conditions=conditions)


def test_an_amendment_goes_before_what_it_amends_and_leaves_the_rest():
    amended = chosen("wet", TITLE_19)
    assert amended["gauges"].item.standard == "California Title 19"
    assert amended["gauges"].item.interval.rhythm == "quarterly"
    assert amended["gauge-accuracy"].item.standard == "NFPA 25"


def test_of_two_adopted_editions_the_stricter_row_stands():
    known = {"backflow_only_supply": True}
    both = {choice.item.key: choice for choice in for_editions("wet", [FEDERAL, NFPA_2017], known)}
    assert both["main-drain"].item.standard == "NFPA 25"
    assert both["inspectors-test"].item.standard == "29 CFR 1910.159"


def test_the_internal_assessment_begins_with_its_edition():
    assert "internal-assessment" not in chosen("dry", editions()["nfpa25-2011"])
    assert "internal-assessment" in chosen("dry", editions()["nfpa25-2014"])


def test_only_questions_that_decide_something_are_asked():
    wet = questions_for("wet", [NFPA_2017])
    assert "backflow_only_supply" in wet
    assert "quick_opening" not in wet
    assert set(wet) <= set(CONDITIONS)


def test_every_condition_of_the_library_has_a_question():
    assert {row.condition for row in items() if row.condition} == set(CONDITIONS)


def test_what_rests_on_no_document_says_so():
    for row in items():
        assert row.source, row.key
        assert (row.how_known == "common practice, no source") == (row.standard == ""), row.key


@pytest.mark.parametrize(
    ("cell", "problem"),
    [
        ({"interval": "often"}, "not an interval"),
        ({"interval": ""}, "either an interval or a trigger"),
        ({"system_kinds": "wet moist"}, "system_kinds “moist” is not one of"),
        ({"condition": "raining"}, "condition “raining” is not one of"),
        ({"how_known": "somebody said so"}, "how_known"),
        ({"edition_from": "twenty"}, "twenty"),
    ],
)
def test_a_wrong_cell_is_refused_and_named(cell, problem):
    row = next(read_rows("items.csv")) | cell
    with pytest.raises(ValueError, match=problem):
        item_from(row)


def test_a_wrong_row_is_named_by_its_number(monkeypatch):
    def refuse(row):
        raise ValueError("nothing is right")

    with pytest.raises(LibraryError, match=r"items.csv, row 2 \(gauges-wet\): nothing is right"):
        list(_load("items.csv", refuse))


def test_first_due_is_an_interval_after_the_day_it_counts_from():
    yearly = parse_interval("1 year")
    new = first_due(yearly, counted_from=date(2026, 2, 1), today=date(2026, 6, 1))
    assert new == date(2027, 2, 1)


@pytest.mark.parametrize(
    ("interval", "due"), [("5 years", date(2026, 7, 1)), ("1 week", date(2026, 6, 8))]
)
def test_what_nobody_knows_when_it_was_done_is_due_soon(interval, due):
    soon = first_due(
        parse_interval(interval), counted_from=date(2005, 3, 1), today=date(2026, 6, 1)
    )
    assert soon == due


@pytest.mark.parametrize(
    ("key", "winter", "due", "opens"),
    [
        ("building-heat", NORTH, date(2026, 10, 31), date(2026, 8, 31)),
        ("building-heat", SOUTH, date(2027, 4, 30), date(2027, 2, 28)),
        ("valve-full-trip", NORTH, date(2026, 10, 31), date(2026, 4, 15)),
        ("valve-full-trip", SOUTH, date(2027, 4, 30), date(2026, 10, 15)),
    ],
)
def test_seasonal_work_follows_the_winter_of_the_site(key, winter, due, opens):
    rule = recurrence_for(item(key), due_on=date(2026, 6, 1), winter=winter)
    slot = next_slot(rule)
    assert (slot.due_on, slot.opens_on) == (due, opens)


def test_where_it_never_freezes_nothing_is_due_before_frost_and_warm_work_is_plain():
    due_on = date(2026, 6, 1)
    assert recurrence_for(item("building-heat"), due_on=due_on, winter=None) is None
    plain = recurrence_for(item("valve-full-trip"), due_on=due_on, winter=None)
    assert next_slot(plain).due_on == due_on


def test_what_is_done_on_occasion_does_not_recur():
    occasional = next(row for row in items() if row.key == "obstruction-investigation")
    assert recurrence_for(occasional, due_on=date(2026, 6, 1), winter=NORTH) is None
