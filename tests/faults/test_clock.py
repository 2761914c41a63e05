"""A clock that jumps ahead and comes back: nothing is missed, nothing doubled, nothing stuck."""

from collections import Counter
from datetime import timedelta

import pytest
from django.core import mail

from scheduling.jobs.sweep import sweep
from scheduling.messages import outbox
from scheduling.messages.digest import ask_for_digests
from scheduling.messages.sending import send_due
from scheduling.models import Message, Task
from tests.factories import NOW, make_system
from tests.scheduling.ledger import DAY, accept, head_break
from tests.scheduling.orders_world import make_order

pytestmark = pytest.mark.django_db
YEAR = timedelta(days=365)
SOON = NOW + outbox.GATHERING


def send(now):
    send_due(lambda: now)


def assert_none_doubled():
    tasks = Counter(Task.objects.values_list("rule", "system", "cause_key"))
    told = Counter(Message.objects.values_list("person", "kind", "cause_key"))
    assert max(told.values()) == max(tasks.values(), default=1) == 1


def test_a_sweep_by_a_clock_a_year_ahead_is_put_right_by_the_next(system):
    accept(system, NOW - DAY)
    before = sorted(Task.objects.open().values_list("rule", "cause_key"))
    sweep(NOW + YEAR)
    sweep(NOW)
    assert sorted(Task.objects.open().values_list("rule", "cause_key")) == before
    assert_none_doubled()


def test_an_event_entered_while_the_clock_was_ahead_is_told_once(system, world):
    head_break(system, NOW + YEAR - DAY, now=NOW + YEAR)
    send(SOON)  # the clock is right again before anything was sent
    send(SOON + YEAR)  # and a year later that time comes anew
    assert [sent.to for sent in mail.outbox] == [[world.technician.email]]
    assert_none_doubled()


def test_what_was_sent_while_the_clock_was_ahead_is_not_sent_again(system):
    head_break(system, NOW - DAY)
    send(NOW + YEAR)
    sent = len(mail.outbox)
    for now in (SOON, SOON + DAY, NOW + YEAR):
        sweep(now)
        send(now)
    assert Message.objects.filter(kind="assignment", state="sent").count() == 1
    assert len([one for one in mail.outbox if "given to you" in one.subject]) == sent == 1
    assert_none_doubled()


def test_a_failure_while_the_clock_was_ahead_is_tried_again_at_once(system, monkeypatch):
    def refuse(self, messages):
        raise ConnectionRefusedError

    head_break(system, NOW - DAY)
    with monkeypatch.context() as broken:
        broken.setattr("django.core.mail.backends.locmem.EmailBackend.send_messages", refuse)
        send(NOW + YEAR)
    assert mail.outbox == []
    send(SOON)
    assert len(mail.outbox) == 1


def late_mail():
    return [one.to for one in mail.outbox if "late" in one.subject.lower()]


@pytest.mark.parametrize("is_sent_ahead", [True, False], ids=["mail sent ahead", "mail not sent"])
@pytest.mark.parametrize("sweeps_between", [True, False], ids=["swept in between", "not swept"])
def test_a_clock_that_jumped_and_came_back_silences_no_later_escalation(
    system, world, is_sent_ahead, sweeps_between
):
    order = make_order(system)
    reached = [order.due_at + DAY, order.due_at + 7 * DAY]
    assert sweep(NOW + YEAR).escalated == 1  # both levels of the one order
    if is_sent_ahead:
        send(NOW + YEAR)
    if sweeps_between:
        sweep(NOW)
        assert not order.escalations.exists()
    send(SOON)
    mail.outbox.clear()
    for number, now in enumerate(reached, start=1):
        assert sweep(now).escalated == 1
        assert sweep(now).escalated == 0
        assert list(order.escalations.values_list("level", "raised_at"))[-1] == (number, now)
        send(now + DAY / 2)
    assert late_mail() == [[world.technician.email], [world.owner.email]]
    assert_none_doubled()


def test_a_level_raised_before_the_clock_jumped_is_not_told_again(system, world):
    order = make_order(system)
    now = order.due_at + 2 * DAY
    sweep(now)
    sweep(now + YEAR)
    report = sweep(now)
    assert (report.taken_back, report.escalated) == (1, 0)
    assert list(order.escalations.values_list("level", "raised_at")) == [(1, now)]
    assert order.trail.get(what="commented").reason.startswith("Level 2 was raised by a clock")
    assert sweep(now).taken_back == 0


def test_a_digest_of_a_week_to_come_takes_no_place_of_this_weeks(world):
    make_system(world.site, world.owner)
    people = {world.owner, world.technician, world.viewer, world.auditor, world.stranger}
    type(world.owner).objects.update(date_joined=NOW - YEAR)
    for now in (NOW, NOW + YEAR, NOW, NOW + DAY):
        ask_for_digests(now)
    weeks = Counter(Message.objects.values_list("cause_key", flat=True))
    assert set(weeks.values()) == {len(people)}
    assert len(weeks) == 2
    assert_none_doubled()
