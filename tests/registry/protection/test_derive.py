"""The table of cases: a ledger, and the protection it leaves. Common practice, no source."""

import pytest

from registry.protection import derive, open_impairments
from registry.protection.restoration import FACTS
from tests.registry.atmosphere.ledgers import day, item
from tests.restoration import RESTORED

DRAIN = dict.fromkeys(
    (
        "nitrogen_before_opening",
        "regulator_above_system",
        "flow_until_empty",
        "one_drain_at_a_time",
    ),
    "yes",
)


def restored(at, number=0, **answers):
    return item("event.impairment_end", at, number, **(RESTORED | answers))


def tagged(at, number=0, areas="Floor 1", **details):
    return item("event.impairment_start", at, number, areas=areas, **details)


def started(at):
    return item(
        "inerting.started", at, start_n2_percent=79.05, feed_n2_percent=100.0,
        target_n2_percent=98.0, fill_gauge_pa=2e5,
    )  # fmt: skip


def returned(at, **answers):
    return item("inerting.returned", at, **(RESTORED | answers))


def stopped(at):
    return item("inerting.stopped", at, reason="Night", left_as="drained, valve shut")


def drained(at, extent="whole", **details):
    return item("event.drain_down", at, extent=extent, **DRAIN, **details)


def head_break(at):
    return item("event.head_break", at, count=1)


def leak(at, **details):
    return item("event.leak", at, form="joint", through="water", air_entered="no", **details)


def drain_test(at, found="none", **details):
    return item(
        "inspection.completed", at, item="main-drain", title="Main drain test",
        due_on="2024-01-02", timing="on_time", found=found, **details,
    )  # fmt: skip


PRESSURES = {"static_gauge_pa": 7e5, "residual_gauge_pa": 6e5}
CASES = {
    "nothing on record": ([], "not_known", "Nobody has stated"),
    "stated to be in service": ([restored(1)], "in_service", "Restored"),
    "tested by a drain test": ([drain_test(1, **PRESSURES)], "in_service", "drain test"),
    "an inspection without pressures tests no supply": ([drain_test(1)], "not_known", "Nobody"),
    "an inspection that found an impairment": (
        [restored(1), drain_test(2, found="impairment", impairments="Valve 3 shut")],
        "impaired",
        "Valve 3 shut",
    ),
    "drained": ([restored(1), drained(2)], "impaired", "was drained"),
    "drained in part": ([drained(2, extent="part", areas="Bay 4")], "impaired", "Part"),
    "a head broke": ([restored(1), head_break(2)], "impaired", "sprinkler opened"),
    "a valve tripped": (
        [restored(1), item("event.trip", 2, cause="false", drained_after="no")],
        "impaired",
        "tripped",
    ),
    "a fire": ([item("event.fire", 2)], "impaired", "fire"),
    "a closed valve": ([item("event.valve_closed", 2, valve="CV-2")], "impaired", "CV-2"),
    "pipe was opened": (
        [item("event.repair", 2, pipe_opened="yes", under_nitrogen="yes", work="Tee")],
        "impaired",
        "opened",
    ),
    "pipe may have been opened": (
        [
            restored(1),
            item("event.repair", 2, pipe_opened="unknown", under_nitrogen="no", work="?"),
        ],
        "not_known",
        "whether pipe was opened",
    ),
    "work that opened nothing": (
        [restored(1), item("event.repair", 2, pipe_opened="no", under_nitrogen="no", work="Sign")],
        "in_service",
        "Restored",
    ),
    "a leak, and it was taken out": (
        [restored(1), leak(2, out_of_service="yes")],
        "impaired",
        "A leak",
    ),
    "a leak, and it was not": ([restored(1), leak(2, out_of_service="no")], "in_service", "Rest"),
    "a leak, and nobody said": ([restored(1), leak(2)], "not_known", "not known whether"),
    "gas pressure was lost": (
        [restored(1), item("event.gas_loss", 2, to_gauge_pa=0.0, air_entered="unknown")],
        "not_known",
        "Gas pressure",
    ),
    "a run has begun": ([restored(1), started(2)], "impaired", "inerting run"),
    "a run returned to service": ([started(2), returned(3)], "in_service", "Restored"),
    "a run stopped": ([restored(1), started(2), stopped(3)], "impaired", "drained, valve shut"),
    "a run stopped, and then restored": (
        [started(2), stopped(3), restored(4)],
        "in_service",
        "Restored",
    ),
    "returned with the valves not open": (
        [started(2), returned(3, valves_open="no")],
        "impaired",
        "no: control valves open",
    ),
    "returned, and drained by a helper as well": (
        [drained(1), started(2), returned(3)],
        "in_service",
        "Restored",
    ),
    "a run returned while another tag hangs": (
        [tagged(1), started(2), returned(3)],
        "impaired",
        "Taken out of service",
    ),
    "a run returned, and every tag is off": (
        [tagged(1), started(2), returned(3, ends="all")],
        "in_service",
        "Restored",
    ),
    "two tags and one end that names the first": (
        [tagged(1, 7), tagged(2, 8, "Floor 2"), restored(3, ends="7")],
        "impaired",
        "Taken out",
    ),
    "two tags and an end of both": (
        [tagged(1, 7), tagged(2, 8, "Floor 2"), restored(3, ends="all")],
        "in_service",
        "Restored",
    ),
    "two tags and an end that names none": (
        [tagged(1, 7), tagged(2, 8, "Floor 2"), restored(3)],
        "impaired",
        "names none",
    ),
    "one tag and an end that names none": ([tagged(1, 7), restored(3)], "in_service", "Restored"),
    "an end that names what is not open": (
        [tagged(1, 7), restored(3, ends="5")],
        "impaired",
        "names none",
    ),
    "nothing was out, and the valves are found shut": (
        [restored(1), restored(2, valves_open="no")],
        "impaired",
        "Found out of service",
    ),
    "nothing was out, and nobody knows of the alarm": (
        [restored(1), restored(2, signals_back="unknown")],
        "not_known",
        "not known: alarm",
    ),
    "a head broke after the restoration": (
        [started(1), returned(2), head_break(3)],
        "impaired",
        "sprinkler",
    ),
    "recorded in another order": ([returned(3), started(1)], "in_service", "Restored"),
    "a run stopped after it was restored": (
        [started(1), restored(2), stopped(3)],
        "in_service",
        "Restored",
    ),
}


@pytest.mark.parametrize(("items", "state", "reason"), CASES.values(), ids=CASES)
def test_a_ledger_tells_protection(items, state, reason):
    last = derive(day(0), items)[-1]
    assert (last.state, reason in last.reason) == (state, True), last


@pytest.mark.parametrize("answer", ["no", "unknown"])
@pytest.mark.parametrize("fact", FACTS)
def test_one_fact_that_is_no_or_not_known_keeps_it_impaired(fact, answer):
    last = derive(day(0), [started(1), returned(2, **{fact: answer})])[-1]
    assert last.state == "impaired"
    assert FACTS[fact] in last.reason
    assert last.state_since == day(1)


def test_a_record_of_before_that_was_not_asked_leaves_it_not_known():
    """The book once asked for valves and notices alone."""
    old = item("inerting.returned", 2, **RESTORED)._replace(
        details={"valves_open": "yes", "notified": "yes"}
    )
    last = derive(day(0), [started(1), old])[-1]
    assert last.state == "not_known"
    assert "nobody was asked: pipe filled" in last.reason


def test_an_impairment_tells_since_when_where_and_whether_it_was_planned():
    spans = derive(day(0), [restored(1), tagged(2, 9, "Bay 1", planned="planned"), head_break(3)])
    planned, both = spans[-2:]
    assert (planned.state_since, planned.areas, planned.is_planned) == (day(2), "Bay 1", True)
    assert (both.state_since, both.is_planned) == (day(2), False)
    assert "Also: A sprinkler" in both.reason
    assert both.cause_id == 9


def test_an_end_still_names_an_impairment_that_was_corrected_since():
    corrected = tagged(1, 12)
    other = tagged(1.5, 8, "Floor 2")
    (left,) = open_impairments([corrected, other, restored(3, ends="7")], {7: 12})
    assert left.sequence == 8


def test_what_changes_nothing_makes_no_span():
    assert (
        len(derive(day(0), [restored(1), drain_test(2, **PRESSURES), leak(3, out_of_service="no")]))
        == 2
    )


def test_nothing_is_told_of_a_system_without_a_day_and_without_records():
    assert derive(None, []) == ()
    assert open_impairments([]) == ()
