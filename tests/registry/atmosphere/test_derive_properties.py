"""Promises that hold for any ledger, over ledgers made up at random."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from registry.atmosphere import LedgerItem, derive, oxygen_at
from registry.atmosphere.derive import in_order
from registry.atmosphere.feeds import feeds_over_time
from registry.kinds.facts import FACTS_AMENDED
from tests.effort import many
from tests.registry.atmosphere.ledgers import (
    AIR,
    COMPRESSOR,
    CYLINDERS,
    GENERATOR,
    PSI,
    START,
    WET,
    day,
)

ENOUGH = settings(max_examples=many(50), deadline=None)
HORIZON = day(1500)
TRI = st.sampled_from(["yes", "no", "unknown"])
N2 = st.floats(70.0, 100.0)
GAUGE = st.floats(0.0, 60 * PSI)
SHARE = st.one_of(st.none(), st.floats(0.0, 100.0))

DETAILS = {
    "event.drain_down": {
        "nitrogen_before_opening": TRI,
        "regulator_above_system": TRI,
        "flow_until_empty": TRI,
        "one_drain_at_a_time": TRI,
    },
    "event.trip": {},
    "event.head_break": {},
    "event.fire": {},
    "event.leak": {"air_entered": TRI, "replaced_percent": SHARE},
    "event.repair": {"pipe_opened": TRI, "under_nitrogen": TRI, "replaced_percent": SHARE},
    "event.water_fill": {"gas_before": st.sampled_from(["nitrogen", "air", "unknown"])},
    "event.test_flow": {},
    "event.gas_loss": {"to_gauge_pa": GAUGE, "air_entered": TRI},
    "event.air_makeup": {"rise_pa": GAUGE, "now": st.sampled_from(["on", "off", "unknown"])},
    "event.observation": {},
    "reading.gas": {"n2_percent": N2},
    "inerting.started": {"start_n2_percent": N2, "feed_n2_percent": st.floats(95.0, 100.0)},
    "inerting.filled": {"pressure_gauge_pa": GAUGE},
    "inerting.read": {"n2_percent": N2},
    "inerting.purged": {"pressure_gauge_pa": GAUGE},
    "inerting.accepted": {"n2_percent": N2, "target_n2_percent": st.just(98.0)},
    "inerting.stopped": {},
}
AIR_ADMITTING = [
    ("event.trip", {}),
    ("event.head_break", {}),
    ("event.fire", {}),
    ("event.leak", {"air_entered": "yes"}),
    ("event.leak", {"replaced_percent": 30.0}),
    ("event.leak", {"air_entered": "unknown"}),
    ("event.drain_down", {"nitrogen_before_opening": "no"}),
    ("event.drain_down", {}),
    ("event.air_makeup", {"rise_pa": 5 * PSI, "now": "off"}),
]


@st.composite
def ledgers(draw):
    """Records with whole hours, so that some fall on the same instant."""
    kinds = draw(st.lists(st.sampled_from(sorted(DETAILS)), max_size=9))
    return [
        LedgerItem(
            id=number,
            sequence=number,
            kind=kind,
            occurred_at=day(draw(st.integers(0, 24 * 60)) / 24),
            details=draw(st.fixed_dictionaries(DETAILS[kind])),
        )
        for number, kind in enumerate(kinds, start=1)
    ]


systems = st.sampled_from([WET, CYLINDERS, GENERATOR, COMPRESSOR])


@ENOUGH
@given(systems, ledgers(), st.data())
def test_the_order_in_which_records_are_handed_over_does_not_matter(facts, items, data):
    shuffled = data.draw(st.permutations(items))
    assert derive(facts, shuffled, HORIZON) == derive(facts, items, HORIZON)


@ENOUGH
@given(systems, ledgers())
def test_spans_follow_one_another_without_repeating_themselves(facts, items):
    spans = derive(facts, items, HORIZON)
    assert spans[0].starts_at == START
    for earlier, later in pairwise(spans):
        assert earlier.starts_at < later.starts_at <= HORIZON
        held = oxygen_at([earlier], facts, later.starts_at)
        assert (earlier.state, earlier.reason, earlier.feed, held) != (
            later.state,
            later.reason,
            later.feed,
            later.oxygen,
        )


@ENOUGH
@given(systems, ledgers(), st.permutations(["compressor", "none", "generator"]))
def test_the_supply_followed_alone_is_the_one_the_spans_have(facts, items, supplies):
    facts = replace(facts, gas_supply=supplies[-1])
    changes = [
        LedgerItem(50 + at, 50 + at, FACTS_AMENDED.code, day(20 * at + 20), {"gas_supply": change})
        for at, change in enumerate({"from": old, "to": new} for old, new in pairwise(supplies))
    ]
    mixed = in_order([*items, *changes], HORIZON)
    feeds = feeds_over_time(facts, mixed)
    for span in derive(facts, mixed, HORIZON):
        begun = [feed for at, feed in feeds if at is None or at <= span.starts_at]
        assert begun[-1] == span.feed


@ENOUGH
@given(systems, ledgers())
def test_the_estimate_lies_in_its_range_and_the_range_between_none_and_air(facts, items):
    for span in derive(facts, items, HORIZON):
        slack = 1e-12
        assert -slack <= span.oxygen_low <= span.oxygen_mid + slack
        assert span.oxygen_mid <= span.oxygen_high + slack and span.oxygen_high <= AIR + slack


@ENOUGH
@given(systems, ledgers())
def test_each_state_has_a_reason_that_fits_the_register(facts, items):
    known = {item.id for item in items}
    for span in derive(facts, items, HORIZON):
        assert span.reason.endswith(".") and len(span.reason) <= 400
        assert 0 < len(span.reason_code) <= 60
        assert span.cause_id is None or span.cause_id in known
        assert span.state_since <= span.starts_at


@ENOUGH
@given(systems, ledgers())
def test_nothing_is_inert_without_an_earlier_acceptance_or_good_readings_under_a_generator(
    facts, items
):
    for span in derive(facts, items, HORIZON):
        if span.state != "inert":
            continue
        before = [item for item in items if item.occurred_at <= span.starts_at]
        good = [item for item in before if item.details.get("n2_percent", 0) >= 98.0]
        kinds = [item.kind for item in good]
        assert "inerting.accepted" in kinds or (facts is GENERATOR and "reading.gas" in kinds)


@ENOUGH
@given(systems, ledgers(), st.sampled_from(AIR_ADMITTING), st.integers(0, 24 * 60))
def test_more_air_never_lowers_the_estimate_or_betters_the_state(facts, items, event, hour):
    kind, details = event
    when = day(hour / 24)
    extra = LedgerItem(99, 99, kind, when, details)
    without, with_it = (derive(facts, ledger, when) for ledger in (items, [*items, extra]))
    assert oxygen_at(with_it, facts, when).mid >= oxygen_at(without, facts, when).mid - 1e-12
    order = ["inert", "in_doubt", "aerated"]
    assert order.index(with_it[-1].state) >= order.index(without[-1].state)


@ENOUGH
@given(systems, ledgers(), st.integers(0, 24 * 60))
def test_what_was_told_up_to_now_does_not_depend_on_the_horizon(facts, items, hour):
    now = day(hour / 24)
    known = [item for item in items if item.occurred_at < now]
    longer = [span for span in derive(facts, known, HORIZON) if span.starts_at < now]
    shorter = [span for span in derive(facts, known, now) if span.starts_at < now]
    assert shorter == longer


@ENOUGH
@given(systems, ledgers(), st.integers(0, 24 * 60))
def test_an_observation_changes_nothing_wherever_it_is_put(facts, items, hour):
    note = LedgerItem(99, 99, "event.observation", day(hour / 24), {})
    assert derive(facts, [*items, note], HORIZON) == derive(facts, items, HORIZON)
