"""The rules as tables: where a system stands, and the follow-ups that should stand open."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from registry.atmosphere import Policy
from registry.atmosphere.confirming import dues, schedule
from registry.atmosphere.types import LedgerItem
from scheduling.rules import RULES, Cause, Facts, Party, drafts_for, still_asked
from tests.scheduling.ledger import nitrogen_check

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")
CHICAGO = ZoneInfo("America/Chicago")
OWNER, CONTRACTOR = Party(1, "Averhythe Quays"), Party(2, "Pellmoor Fire Protection")
DAY = timedelta(days=1)


def cause(record_id, days_ago=1.0, label="Valve trip", known_days_ago=None, corrects=()):
    at = NOW - days_ago * DAY
    known_at = NOW - (days_ago if known_days_ago is None else known_days_ago) * DAY
    return Cause(record_id, (f"uuid-{record_id}", *corrects), label, at, known_at)


def standing(state, *causes, **changes):
    facts = Facts(
        now=NOW,
        zone=LONDON,
        owner=OWNER,
        contractor=CONTRACTOR,
        state=state,
        since=causes[0].occurred_at if causes else NOW - 40 * DAY,
        present_since=causes[0].occurred_at if causes else NOW - 40 * DAY,
        reason="The valve tripped.",
        causes=causes,
    )
    return replace(facts, **changes)


def accepted(days_ago, *read_days_after, **changes):
    """Inert since an acceptance, with readings so many days after it."""
    proven_at = NOW - days_ago * DAY
    items = [
        LedgerItem(100 + i, 100 + i, "reading.gas", proven_at + days * DAY, {"n2_percent": 98.5})
        for i, days in enumerate(read_days_after)
    ]
    policy = Policy()
    asked = still_asked(schedule(proven_at, items, policy), max(policy.confirming_days))
    acceptance = cause(9, days_ago, label="Reading accepted")
    return replace(standing("inert", acceptance=acceptance, dues=asked), **changes)


def summary(facts):
    return [(draft.rule, draft.kind, draft.title) for draft in drafts_for(facts)]


ORDER = ("aerated", "reinerting_order", "Re-inerting order")
DOUBT = ("in_doubt", "confirming_reading", "Nitrogen check")


def confirmation(days):
    return ("accepted", "confirming_reading", nitrogen_check(days))


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        pytest.param(standing("aerated", cause(1)), [ORDER], id="a record let air in"),
        pytest.param(
            standing("aerated", cause(1, 3), cause(2, 1)), [ORDER], id="two causes, one order"
        ),
        pytest.param(standing("aerated", is_as_installed=True), [], id="never inerted, no event"),
        pytest.param(
            standing("aerated", cause(1), is_as_installed=True),
            [ORDER],
            id="never inerted, then an event",
        ),
        pytest.param(standing("aerated"), [ORDER], id="time alone aerated it"),
        pytest.param(standing("in_doubt", cause(1)), [DOUBT], id="a record put it in doubt"),
        pytest.param(standing("in_doubt"), [DOUBT], id="time alone put it in doubt"),
        pytest.param(standing("inert"), [], id="inert without an acceptance"),
        pytest.param(accepted(0), [confirmation(d) for d in (1, 30, 365)], id="just accepted"),
        pytest.param(
            accepted(2, 1), [confirmation(d) for d in (30, 365)], id="first reading taken"
        ),
        pytest.param(accepted(40, 31), [confirmation(365)], id="one missed, the next one taken"),
        pytest.param(accepted(370, 1, 30, 365), [confirmation(730)], id="then once a year"),
        pytest.param(
            accepted(50, 1, state="in_doubt"),
            [confirmation(d) for d in (30, 365)],
            id="overdue: the scheduled reading stands, no second is asked",
        ),
        pytest.param(
            accepted(5, 1, state="in_doubt", causes=(cause(1, 1, label="Leak"),)),
            [DOUBT, confirmation(30), confirmation(365)],
            id="in doubt by a record while readings are still to come",
        ),
        pytest.param(
            accepted(5, 1, state="aerated", causes=(cause(1),)),
            [ORDER],
            id="aerated: what was to be confirmed is gone",
        ),
    ],
)
def test_drafts(facts, expected):
    assert summary(facts) == expected


def test_every_rule_is_named_once_and_says_what_it_does():
    assert len({rule.code for rule in RULES}) == len(RULES)
    assert all(rule.says.endswith(".") for rule in RULES)


def test_order_goes_to_the_contractor_and_says_why_it_exists_and_what_it_waits_for():
    (order,) = drafts_for(standing("aerated", cause(1)))
    assert order.assigned_to == CONTRACTOR.id
    assert order.why == ("31 May 2026: The valve tripped. Waits for an accepted inerting run.")


def test_order_without_a_contractor_stays_with_the_owner_and_says_so():
    (order,) = drafts_for(standing("aerated", cause(1), contractor=None))
    assert order.assigned_to == OWNER.id
    assert "No contractor serves the site now, so it stays with Averhythe Quays." in (order.why)


def test_further_causes_are_named_on_the_one_order():
    (order,) = drafts_for(standing("aerated", cause(1, 3), cause(2, 1, label="Head break")))
    assert "Also: Head break, 31 May 2026." in order.why
    assert order.cause_ids == (1, 2)


def test_term_runs_from_when_the_book_first_knew():
    late_entry = cause(1, days_ago=400, known_days_ago=0)
    (order,) = drafts_for(standing("aerated", late_entry))
    assert order.slot.due_at == datetime(2026, 6, 15, 15, tzinfo=UTC)  # 16:00 in London


def test_correcting_a_record_gives_no_new_term():
    corrected = cause(2, days_ago=10, corrects=("uuid-1",))
    (before,) = drafts_for(standing("aerated", cause(1, days_ago=10)))
    (after,) = drafts_for(standing("aerated", corrected))
    assert after.slot == before.slot
    assert set(before.keys) <= set(after.keys)


@pytest.mark.parametrize(
    ("zone", "known_at", "starts_at", "due_at"),
    [
        pytest.param(
            LONDON,
            datetime(2026, 3, 20, 12, tzinfo=UTC),
            datetime(2026, 4, 3, 7, tzinfo=UTC),
            datetime(2026, 4, 3, 15, tzinfo=UTC),
            id="across the change to summer time",
        ),
        pytest.param(
            LONDON,
            datetime(2026, 10, 11, 12, tzinfo=UTC),
            datetime(2026, 10, 25, 8, tzinfo=UTC),
            datetime(2026, 10, 25, 16, tzinfo=UTC),
            id="due on the very day the clocks go back",
        ),
        pytest.param(
            CHICAGO,
            datetime(2026, 6, 2, 3, tzinfo=UTC),
            datetime(2026, 6, 15, 13, tzinfo=UTC),
            datetime(2026, 6, 15, 21, tzinfo=UTC),
            id="still the evening before at the site",
        ),
        pytest.param(
            LONDON,
            datetime(2028, 2, 15, 12, tzinfo=UTC),
            datetime(2028, 2, 29, 8, tzinfo=UTC),
            datetime(2028, 2, 29, 16, tzinfo=UTC),
            id="leap day",
        ),
    ],
)
def test_an_order_is_due_after_the_policys_days_at_the_site(zone, known_at, starts_at, due_at):
    raised = Cause(1, ("uuid-1",), "Valve trip", known_at, known_at)
    (order,) = drafts_for(standing("aerated", raised, zone=zone))
    assert (order.slot.starts_at, order.slot.due_at) == (starts_at, due_at)


def test_confirming_reading_is_planned_when_it_counts_and_late_when_the_doubt_begins():
    drafts = drafts_for(accepted(0))
    expected = next(dues(NOW, Policy()))
    first = drafts[0].slot
    assert (first.opens_at, first.due_at) == (expected.earliest_at, expected.overdue_from)
    assert all(d.slot.opens_at <= d.slot.starts_at < d.slot.due_at for d in drafts)


def test_confirming_reading_after_a_late_acceptance_is_not_planned_before_it_counts():
    late_evening = datetime(2026, 6, 1, 22, 50, tzinfo=UTC)
    acceptance = Cause(9, ("uuid-9",), "Reading accepted", late_evening, late_evening)
    due = next(dues(late_evening, Policy()))
    (draft,) = drafts_for(standing("inert", acceptance=acceptance, dues=(due,)))
    assert draft.slot.starts_at == datetime(2026, 6, 2, 11, 0, tzinfo=UTC)


def test_late_confirming_reading_says_since_when():
    overdue = accepted(50, 1, state="in_doubt", reason="The confirming reading is overdue.")
    first = drafts_for(overdue)[0]
    assert "Late since" in first.why
    assert first.why.endswith("The confirming reading is overdue.")
