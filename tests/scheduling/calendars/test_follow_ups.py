"""Revisions: SEQUENCE once for what moves or cancels, LAST-MODIFIED for everything that shows."""

from datetime import timedelta

import pytest
from django.utils.translation import override

from registry import services as registry
from registry.models import Building, Site, System
from scheduling.calendars.follow_ups import entry_of, location, publish
from scheduling.models import Task
from tests.factories import NOW
from tests.scheduling.ledger import DAY, accept, head_break
from tests.scheduling.orders_world import book, make_crew

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def order(system):
    head_break(system, NOW - DAY)
    return get()


def get() -> Task:
    return Task.objects.with_place().get(rule="aerated")


def test_a_new_follow_up_is_published_as_revision_nought(order):
    assert (order.sequence, order.modified_at) == (0, NOW)
    assert publish([order], NOW + HOUR) == 0
    assert get().modified_at == NOW


def test_place_names_building_site_and_address_on_one_line(order, system):
    System.objects.filter(pk=system.pk).update(
        building=Building.objects.create(site=system.site, name="Shed 4")
    )
    Site.objects.update(address="1 Quay Road\nAverhythe")
    assert location(get().system) == "Shed 4, North Quay, 1 Quay Road, Averhythe"


@pytest.mark.parametrize("field", ["name", "address"])
def test_a_changed_place_raises_the_sequence_once(order, field):
    Site.objects.update(**{field: "Slip Yard"})
    assert publish([get()], NOW + HOUR) == 1
    assert publish([get()], NOW + 2 * HOUR) == 0
    assert (get().sequence, get().modified_at) == (1, NOW + HOUR)


def test_a_renamed_building_raises_the_sequence(order, system):
    building = Building.objects.create(site=system.site, name="Shed 4")
    System.objects.filter(pk=system.pk).update(building=building)
    publish([get()], NOW + HOUR)
    Building.objects.update(name="Shed 5")
    publish([get()], NOW + 2 * HOUR)
    assert get().sequence == 2


def test_several_changes_between_two_looks_raise_it_once(order):
    Site.objects.update(name="Slip Yard", address="2 Slip Road")
    publish([get()], NOW + HOUR)
    assert get().sequence == 1


def test_a_new_tag_moves_last_modified_and_not_the_sequence(order):
    System.objects.update(tag="NQ-101A")
    publish([get()], NOW + HOUR)
    assert (get().sequence, get().modified_at) == (0, NOW + HOUR)
    assert "NQ-101A" in entry_of(get(), NOW).text.summary


def test_two_readers_at_once_raise_the_sequence_once(order):
    Site.objects.update(name="Slip Yard")
    mine, theirs = get(), get()
    assert publish([mine], NOW + HOUR) == 1
    assert publish([theirs], NOW + 2 * HOUR) == 0
    assert get().sequence == mine.sequence == theirs.sequence == 1
    assert theirs.modified_at == NOW + HOUR


def test_a_second_change_within_one_second_is_dated_into_the_next(order):
    Site.objects.update(name="Slip Yard")
    publish([get()], NOW)
    System.objects.update(tag="NQ-101A")
    publish([get()], NOW + timedelta(milliseconds=300))
    assert get().modified_at == NOW + timedelta(seconds=2)


def test_doing_the_work_at_the_booked_time_keeps_the_sequence_and_drops_the_alarm(
    order, system, world
):
    booked = book(order, world.technician, NOW + DAY)
    assert (booked.sequence, entry_of(get(), NOW).slot.is_tentative) == (1, False)
    accept(system, NOW - HOUR, now=NOW + HOUR)
    done = entry_of(get(), NOW)
    assert done.sequence == 1
    assert not done.slot.is_cancelled and not done.text.has_alarm
    assert done.text.summary == "Done: Re-inerting order, NQ-101"


def test_doing_what_was_only_proposed_confirms_it_under_a_higher_sequence(order, system):
    assert entry_of(get(), NOW).slot.is_tentative
    accept(system, NOW - HOUR, now=NOW + HOUR)
    done = entry_of(get(), NOW)
    assert (done.sequence, done.slot.is_tentative) == (1, False)


STATES = [
    pytest.param("offered", False, (True, False), id="offered"),
    pytest.param("accepted", False, (True, False), id="accepted, no time agreed"),
    pytest.param("declined", False, (True, False), id="declined"),
    pytest.param("booked", False, (False, False), id="booked, no crew named"),
    pytest.param("booked", True, (False, True), id="a crew is booked"),
    pytest.param("started", True, (False, True), id="a crew is at it"),
    pytest.param("accepted", True, (True, False), id="a crew without a time"),
]


@pytest.mark.parametrize(("state", "has_crew", "expected"), STATES)
def test_a_time_nobody_agreed_is_tentative_and_a_booked_crew_is_busy(
    order, world, state, has_crew, expected
):
    crew = make_crew(world.contractor) if has_crew else None
    Task.objects.update(work_state=state, work_reason="Too far", crew=crew)
    slot = entry_of(get(), NOW).slot
    assert (slot.is_tentative, slot.is_busy) == expected


@pytest.mark.parametrize(
    ("days", "words"), [(0, "Late since today: "), (1, "1 day late: "), (9, "9 days late: ")]
)
def test_what_is_overdue_stands_at_today_and_says_how_late(order, days, words):
    now = order.due_at + days * DAY
    overdue = entry_of(get(), now)
    today = now.astimezone(order.zone).date()
    assert (overdue.slot.starts_at, overdue.slot.ends_at) == (today, today + DAY)
    assert overdue.slot.time_zone == "" and overdue.slot.is_tentative
    assert overdue.text.summary == f"{words}Re-inerting order, NQ-101"
    assert publish([get()], now) == 1 and publish([get()], now + timedelta(minutes=5)) == 0
    assert publish([get()], now + DAY) == 1 and get().sequence == 2


def test_what_is_overdue_and_booked_ahead_stays_at_its_time_and_says_how_late(order, world):
    later = order.due_at + 3 * DAY
    book(order, world.technician, later, reason="The bay is let until then")
    now = order.due_at + DAY / 2
    entry = entry_of(get(), now)
    assert entry.slot.starts_at == later and not entry.slot.is_tentative
    assert entry.text.summary.startswith("1 day late: ")
    assert entry_of(get(), later + 4 * HOUR).slot.starts_at == later.astimezone(order.zone).date()


def test_entries_are_kept_in_one_language_whoever_reads_them(order):
    with override("es"):
        assert publish([get()], NOW + HOUR) == 0


def test_withdrawing_and_opening_again_each_raise_the_sequence(order, system, world):
    uid = order.calendar_uid
    taken_back = registry.withdraw(
        record=order.cause, reason="Wrong system", recorded_by=world.owner, now=NOW + HOUR
    )
    cancelled = entry_of(get(), NOW)
    assert (cancelled.uid, cancelled.sequence, cancelled.slot.is_cancelled) == (uid, 1, True)
    assert taken_back.sequence > 0
    head_break(system, NOW - 2 * HOUR, now=NOW + 2 * HOUR)
    again = Task.objects.with_place().filter(rule="aerated", status="open").get()
    assert again.calendar_uid != uid


def test_a_follow_up_opened_again_keeps_its_uid_and_is_confirmed_under_a_higher_sequence(
    order, system, world
):
    uid = order.calendar_uid
    run = accept(system, NOW - HOUR, now=NOW + HOUR)
    registry.withdraw(record=run, reason="Other system", recorded_by=world.owner, now=NOW + HOUR)
    again = entry_of(get(), NOW)
    assert again.uid == uid
    assert not again.slot.is_cancelled
    assert again.text.summary == "Re-inerting order, NQ-101"


def test_description_says_why_until_when_for_whom_with_cautions(order):
    text = entry_of(order, NOW).text.description
    assert order.why in text
    until = f"{order.due_on:%-d %B %Y}"
    assert f"In time until {until}. For: Pellmoor Fire Protection. Offered." in text
    assert "Nitrogen displaces the air people breathe" in text
    assert "authority having jurisdiction" in text
