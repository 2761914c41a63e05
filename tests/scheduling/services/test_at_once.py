"""Two at once, on a database that lets them: nothing is missed, nothing is done twice."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from registry.models import Site
from registry.signals import record_added
from scheduling.calendars.follow_ups import publish
from scheduling.jobs.sweep import sweep
from scheduling.models import RuleRun, Task
from scheduling.receivers import follow_up
from tests.factories import NOW, make_system
from tests.scheduling.ledger import DAY, fire, head_break, open_work

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        connection.vendor == "sqlite",
        reason="a test database in memory has one connection; run with DATABASE_URL of PostgreSQL",
    ),
]


def at_once(*jobs):
    """Start all jobs at the same moment, each on its own connection."""
    barrier = Barrier(len(jobs))

    def run(job):
        barrier.wait()
        try:
            return job()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(run, jobs))


def test_two_people_who_record_at_once_raise_one_order_with_both_causes(system):
    events = at_once(lambda: head_break(system, NOW - DAY), lambda: fire(system, NOW - DAY / 2))
    order = Task.objects.get()
    assert {order.cause, *order.further_causes.all()} == set(events)


def test_two_sweeps_at_once_raise_each_order_once(world):
    record_added.disconnect(dispatch_uid="follow_up_record")
    try:
        systems = [make_system(world.site, world.owner) for _ in range(6)]
        for one in systems:
            head_break(one, NOW - DAY)
    finally:
        record_added.connect(follow_up, dispatch_uid="follow_up_record")
    reports = at_once(*[lambda: sweep(NOW)] * 3)
    assert [report.failed for report in reports] == [0, 0, 0]
    assert all(len(open_work(one)) == 1 for one in systems)
    assert Task.objects.count() == RuleRun.objects.filter(done_at=NOW).count() == 6


def test_feeds_read_at_once_after_a_move_raise_the_sequence_once(system):
    head_break(system, NOW - DAY)
    Site.objects.update(name="Slip Yard")
    changed = at_once(*[lambda: publish(list(Task.objects.with_place()), NOW)] * 4)
    assert sum(changed) == 1
    assert Task.objects.get().sequence == 1
