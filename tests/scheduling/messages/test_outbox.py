"""Messages as rows: once per recipient, kind and cause, whatever dies in between."""

from datetime import timedelta

import pytest

from scheduling.jobs.sweep import sweep
from scheduling.messages import outbox
from scheduling.messages.causes import note_late, note_task, untold
from scheduling.models import Message, Notice, Task
from scheduling.models.messages import LEASE, LONGEST_WAIT
from tests.factories import NOW, make_organisation, make_user
from tests.scheduling.ledger import DAY, accept, head_break

pytestmark = pytest.mark.django_db
State = Message.State
LATER = NOW + outbox.GATHERING
SECOND = timedelta(seconds=1)


def write(person, key="one", kind="digest", now=NOW):
    outbox.write(kind=kind, cause_key=key, people=[person], now=now)


def states():
    return list(Message.objects.order_by("pk").values_list("state", flat=True))


def test_an_order_tells_those_at_the_contractor_who_can_do_it(system, world):
    make_user(world.contractor, "reader")
    head_break(system, NOW - DAY)
    message = Message.objects.get()
    assert message.person == world.technician
    assert (message.kind, message.state) == ("assignment", "pending")
    assert message.task == Task.objects.get()


def test_a_follow_up_of_another_cause_merged_into_an_order_tells_nobody_again(system):
    head_break(system, NOW - DAY)
    head_break(system, NOW - DAY / 2)
    assert Message.objects.count() == 1


def test_one_who_was_told_of_a_cause_is_not_told_of_it_again(owner):
    write(owner)
    write(owner)
    write(owner, key="another")
    assert Message.objects.count() == 2


def test_given_away_and_given_back_is_news_each_time(system, world):
    head_break(system, NOW - DAY)
    task = Task.objects.get()
    for holder in (world.owner_organisation, world.contractor):
        task.assigned_to = holder
        task.save()
        note_task(task, NOW)
        note_task(task, NOW)
    told = Message.objects.order_by("pk").values_list("person", flat=True)
    assert list(told) == [world.technician.pk, world.owner.pk, world.technician.pk]


def test_a_follow_up_raised_again_after_it_was_closed_is_news(system, world):
    head_break(system, NOW - DAY)
    task = Task.objects.get()
    accept(system, NOW - DAY / 2)
    assert Notice.objects.get(task=task).organisation is None
    task.status, task.closed_at = Task.Status.OPEN, None
    task.save()
    note_task(task, NOW)
    assert Message.objects.filter(task=task, person=world.technician).count() == 2


def test_the_sweep_tells_of_an_assignment_that_told_nobody(system, world):
    head_break(system, NOW - DAY)
    Task.objects.update(assigned_to=world.owner_organisation)
    assert untold().count() == 1
    # The owner does not serve the site, so the sweep first gives it back; then nobody is untold.
    report = sweep(NOW)
    assert not untold().exists()
    assert report.failed == 0


def test_the_sweep_tells_late_what_another_program_wrote(system, world):
    head_break(system, NOW - DAY)
    Message.objects.all().delete()
    Notice.objects.all().delete()
    assert sweep(NOW).notified == 1
    assert Message.objects.get().person == world.technician
    assert sweep(NOW).notified == 0


def test_lateness_is_reported_once_per_step(system, owner):
    head_break(system, NOW - DAY)
    task = Task.objects.get()
    for step in ("level 1", "level 1", "level 2"):
        note_late(task, [owner], step, NOW)
    assert Message.objects.filter(kind="escalation", person=owner).count() == 2


def test_what_waits_for_one_person_goes_into_one_parcel(world):
    for key in ("one", "two"):
        write(world.owner, key)
    write(world.viewer)
    parcel = outbox.claim(NOW)
    assert [message.cause_key for message in parcel.messages] == ["one", "two"]
    assert states() == ["claimed", "claimed", "pending"]


def test_a_claimed_parcel_is_nobody_elses(owner):
    write(owner)
    assert outbox.claim(NOW) is not None
    assert outbox.claim(NOW + SECOND) is None


def test_what_must_wait_is_not_claimed(owner):
    outbox.write(kind="assignment", cause_key="one", people=[owner], now=NOW, wait=outbox.GATHERING)
    assert outbox.claim(LATER - SECOND) is None
    assert outbox.claim(LATER) is not None


def test_a_claim_that_died_is_taken_over_after_its_lease_as_the_same_parcel(owner):
    write(owner)
    died = outbox.claim(NOW)
    write(owner, key="came meanwhile", now=NOW)
    assert outbox.claim(NOW + LEASE - SECOND).messages[0].cause_key == "came meanwhile"
    taken_over = outbox.claim(NOW + LEASE)
    assert taken_over.key == died.key
    assert (taken_over.attempts, len(taken_over.messages)) == (2, 1)


def test_a_worker_that_wakes_after_its_lease_settles_nothing(owner, caplog):
    write(owner)
    slow = outbox.claim(NOW)
    outbox.claim(NOW + LEASE)
    outbox.settle_sent(slow, NOW + LEASE + SECOND)
    assert states() == ["claimed"]
    assert "slower than LEASE" in caplog.text


def test_attempts_wait_longer_each_time_and_end(owner):
    write(owner)
    now, waits = NOW, []
    for _ in range(outbox.LAST_ATTEMPT):
        parcel = outbox.claim(now)
        outbox.retry_later(parcel, "421 busy", now)
        message = Message.objects.get()
        waits.append(message.not_before - now)
        now = max(now, message.not_before)
    assert tuple(waits[:-1]) == outbox.WAITS
    assert (message.state, message.last_error) == ("failed", "421 busy")
    assert outbox.claim(now + LONGEST_WAIT) is None


def test_what_was_given_up_can_be_tried_again_by_hand_once(owner):
    write(owner)
    outbox.give_up(outbox.claim(NOW), "550 no such mailbox", NOW)
    message = Message.objects.get()
    assert outbox.try_again(message, NOW)
    assert not outbox.try_again(message, NOW)
    assert outbox.claim(NOW).attempts == 1


def test_waiting_for_the_morning_is_no_failed_attempt(owner):
    write(owner)
    outbox.put_off(outbox.claim(NOW), NOW + DAY / 2)
    write(owner, key="came in the night")
    parcel = outbox.claim(NOW + DAY / 2)
    assert (parcel.attempts, len(parcel.messages)) == (1, 2)


def test_a_clock_that_ran_ahead_and_came_back_keeps_nothing_waiting(owner):
    ahead = NOW + 365 * DAY
    write(owner, now=ahead)
    assert outbox.claim(NOW).first.cause_key == "one"


def test_a_claim_of_a_clock_that_ran_ahead_is_taken_over(owner):
    write(owner)
    outbox.claim(NOW + 365 * DAY)
    assert outbox.claim(NOW) is not None


def test_no_wait_of_the_book_is_taken_for_a_clock_gone_wrong():
    assert max(outbox.WAITS) + DAY <= LONGEST_WAIT


def test_a_task_of_an_organisation_without_people_tells_nobody(system):
    head_break(system, NOW - DAY)
    task = Task.objects.get()
    Message.objects.all().delete()
    task.assigned_to = make_organisation("contractor")
    task.save()
    note_task(task, NOW)
    assert not Message.objects.exists()
