"""Follow-ups from real ledgers: raised, merged, moved, closed, withdrawn, opened again."""

import pytest

from registry import services as registry
from registry.models import OwnerPolicy, ServiceContract
from scheduling.calendars.follow_ups import stamp
from scheduling.models import RuleRun, SystemWatch, Task
from scheduling.services import apply_rules, reconcile
from tests.factories import NOW, make_site, make_system
from tests.scheduling.ledger import (
    COVERED,
    DAY,
    DOUBT,
    ORDER,
    accept,
    confirmations,
    fire,
    head_break,
    open_work,
    read,
    restore,
    unclear_drain_down,
)

pytestmark = pytest.mark.django_db


def state(*tasks):
    fields = [f.attname for f in Task._meta.concrete_fields]
    return [{name: getattr(task, name) for name in fields} for task in tasks]


def test_a_system_entered_into_the_register_raises_no_order(system):
    assert not Task.objects.exists()


def test_an_aerating_event_raises_an_order_to_the_contractor_of_the_site(system, world):
    event = head_break(system, NOW - DAY)
    order = Task.objects.get()
    assert (order.kind, order.status) == ("reinerting_order", "open")
    assert order.assigned_to == world.contractor
    assert order.cause == event
    assert "A sprinkler opened" in order.why


def test_an_order_stays_with_the_owner_when_no_contractor_serves_the_site_that_day(world):
    site = make_site(world.owner_organisation, name="South Quay")
    system = make_system(site, world.owner)
    head_break(system, NOW - DAY)
    order = Task.objects.get()
    assert order.assigned_to == world.owner_organisation
    assert "No contractor serves the site now" in order.why


def test_an_event_that_keeps_the_nitrogen_in_raises_nothing(system):
    accept(system, NOW - DAY)
    registry.record(
        system=system,
        kind="event.drain_down",
        occurred_at=NOW - DAY / 2,
        details=COVERED,
        recorded_by=system.records.first().recorded_by,
        now=NOW,
    )
    assert open_work(system) == confirmations(1, 30, 365)


def test_a_second_aerating_event_is_noted_on_the_open_order(system):
    first = head_break(system, NOW - 3 * DAY)
    second = fire(system, NOW - DAY)
    order = Task.objects.get()
    assert order.cause == first
    assert list(order.further_causes.all()) == [second]
    assert "Also: Fire" in order.why


def test_an_accepted_run_closes_the_order_and_raises_confirming_readings(system):
    head_break(system, NOW - 3 * DAY)
    run = accept(system, NOW - DAY)
    order = system.tasks.get(rule="aerated")
    assert (order.status, order.closed_by, order.closed_at) == ("done", run, NOW)
    restore(system, NOW)
    assert open_work(system) == confirmations(1, 30, 365)


def test_the_owners_policy_sets_terms_and_confirming_days(system, world):
    OwnerPolicy.objects.create(
        owner=world.owner_organisation, confirming_days=[2, 60], order_within_days=3
    )
    head_break(system, NOW - 2 * DAY, now=NOW - 2 * DAY)
    assert system.tasks.get().due_on == (NOW + DAY).date()
    accept(system, NOW - DAY)
    restore(system, NOW)
    assert open_work(system) == confirmations(2, 60)


def test_doubt_raises_a_confirming_reading_and_a_good_reading_closes_it(system):
    accept(system, NOW - 10 * DAY)
    drained = unclear_drain_down(system, NOW - 3 * DAY)
    task = system.tasks.get(rule="in_doubt")
    assert (task.cause, task.status) == (drained, "open")
    reading = read(system, NOW - DAY, 98.4)
    task.refresh_from_db()
    assert (task.status, task.closed_by) == ("done", reading)


def test_a_reading_that_leaves_the_doubt_answers_the_old_follow_up_and_raises_its_own(system):
    accept(system, NOW - 10 * DAY)
    drained = unclear_drain_down(system, NOW - 3 * DAY)
    low = read(system, NOW - DAY, 96.0)
    first, second = system.tasks.filter(rule="in_doubt").order_by("pk")
    assert (first.cause, first.status, first.closed_by) == (drained, "done", low)
    assert (second.cause, second.status) == (low, "open")


def test_two_doubtful_events_share_one_reading(system):
    accept(system, NOW - 10 * DAY)
    unclear_drain_down(system, NOW - 3 * DAY)
    later = unclear_drain_down(system, NOW - 2 * DAY)
    task = system.tasks.get(rule="in_doubt")
    assert list(task.further_causes.all()) == [later]


def test_an_aerating_event_overtakes_the_doubt(system):
    accept(system, NOW - 10 * DAY)
    unclear_drain_down(system, NOW - 3 * DAY)
    broken = head_break(system, NOW - 2 * DAY)
    doubt = system.tasks.get(rule="in_doubt")
    assert (doubt.status, doubt.closed_by) == ("withdrawn", broken)
    assert doubt.closing_note.startswith("No longer needed. A sprinkler opened")
    assert open_work(system) == [ORDER]


def test_a_reading_in_its_window_closes_that_confirming_reading_alone(system):
    accept(system, NOW - 31 * DAY)
    read(system, NOW - 30 * DAY, 98.5)
    assert open_work(system) == confirmations(30, 365)
    reading = read(system, NOW, 98.5)
    assert open_work(system) == confirmations(365)
    assert system.tasks.get(title="30-day nitrogen check").closed_by == reading


def test_a_reading_stands_in_for_one_that_was_missed(system):
    accept(system, NOW - 31 * DAY)
    reading = read(system, NOW, 98.5)
    closed = system.tasks.filter(status="done").order_by("due_at")
    assert [(t.title[:4], t.closed_by) for t in closed] == [
        ("Next", reading),
        ("30-d", reading),
    ]


def test_an_early_reading_closes_nothing(system):
    accept(system, NOW - DAY)
    read(system, NOW - DAY + DAY / 24, 98.5)
    assert open_work(system) == confirmations(1, 30, 365)


def test_a_new_accepted_run_starts_its_own_confirming_readings(system):
    accept(system, NOW - 20 * DAY)
    head_break(system, NOW - 10 * DAY)
    accept(system, NOW - DAY)
    old = system.tasks.filter(rule="accepted", cause__occurred_at=NOW - 20 * DAY)
    assert not old.open().exists()
    restore(system, NOW)
    assert open_work(system) == confirmations(1, 30, 365)


def test_a_run_that_was_stopped_leaves_an_order(system, world):
    accept(system, NOW - 10 * DAY)
    for kind, when, details in (
        (
            "inerting.started",
            NOW - 2 * DAY,
            {
                "start_n2_percent": 90.0,
                "feed_n2_percent": 99.9,
                "target_n2_percent": 98.0,
                "fill_gauge_pa": 2e5,
            },
        ),
        ("inerting.stopped", NOW - DAY, {"reason": "Out of gas", "left_as": "Drained"}),
    ):
        registry.record(
            system=system,
            kind=kind,
            occurred_at=when,
            details=details,
            recorded_by=world.owner,
            now=NOW,
        )
    order = system.tasks.get(rule="aerated")
    assert order.status == "open"
    assert "stopped before acceptance" in order.why


def test_applying_the_rules_twice_changes_nothing(system):
    head_break(system, NOW - 3 * DAY)
    accept(system, NOW - 2 * DAY)
    record = unclear_drain_down(system, NOW - DAY)
    before = state(*Task.objects.order_by("pk"))
    assert not apply_rules(record=record, now=NOW + DAY / 24)
    assert state(*Task.objects.order_by("pk")) == before
    assert RuleRun.objects.get(record=record).attempts == 2


def test_a_record_dated_a_little_ahead_by_a_phones_clock_is_followed_up_at_once(system):
    head_break(system, NOW + DAY / 24 / 20)
    assert open_work(system) == [ORDER]


def test_reconciling_notes_the_state_it_brought_the_system_to(system):
    head_break(system, NOW - DAY)
    watch = SystemWatch.objects.get()
    assert (watch.system, watch.state, watch.state_since) == (system, "aerated", NOW - DAY)


def test_a_change_of_contractor_hands_open_work_over(system, world):
    head_break(system, NOW - DAY)
    ServiceContract.objects.update(ends_on=(NOW - DAY).date())
    reconcile(system=system, now=NOW)
    assert Task.objects.get().assigned_to == world.owner_organisation


def test_doubt_by_an_event_and_readings_still_to_come_stand_side_by_side(system):
    accept(system, NOW - 3 * DAY)
    read(system, NOW - 2 * DAY, 98.5)
    unclear_drain_down(system, NOW - DAY)
    assert open_work(system) == sorted([DOUBT, *confirmations(30, 365)])


def test_a_title_of_an_earlier_version_is_renewed_and_told_to_calendars_once(system):
    accept(system, NOW - DAY)
    task = system.tasks.order_by("due_at").first()
    title, sequence, modified_at = task.title, task.sequence, task.modified_at
    task.title = "As it was called before"
    stamp(task, NOW)
    task.save()
    changes = [reconcile(system=system, now=NOW + DAY / 24 * hours) for hours in (1, 2)]
    assert [change.amended for change in changes] == [1, 0]
    task.refresh_from_db()
    assert (task.title, task.sequence) == (title, sequence)
    assert task.modified_at == NOW + DAY / 24 > modified_at
