"""Recurring jobs: one of a name at a time, seen to live, safe to lose; and one clock that ticks."""

from datetime import timedelta

import pytest
from django.db import OperationalError
from django.urls import reverse
from django.utils import timezone

from config.celery import app
from registry.signals import record_added
from scheduling import tasks
from scheduling.jobs import clock as queue_clock
from scheduling.jobs import runs
from scheduling.jobs.sweep import Share, sweep, unfinished_records
from scheduling.messages.outbox import write
from scheduling.models import JobRun, Lease, Message, RuleRun
from scheduling.models.jobs import SILENT_FOR
from scheduling.receivers import follow_up
from tests.factories import NOW, make_system
from tests.scheduling.ledger import DAY, head_break

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)
LENGTH = timedelta(seconds=30)


class Clock:
    """Stands still until it is moved."""

    def __init__(self):
        self.now = NOW

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


def test_a_job_says_that_it_lives_how_far_it_is_and_what_came_of_it(clock):
    with runs.running("sweep", clock) as run:
        run.advance(3)
        clock.now += 10 * SECOND
        run.advance()
        under_way = JobRun.objects.get()
        assert (under_way.done, under_way.heartbeat_at) == (4, NOW + 10 * SECOND)
        run.outcome = "4 systems"
    ended = JobRun.objects.get()
    assert (ended.state, ended.outcome, ended.done) == ("done", "4 systems", 4)


def test_a_busy_job_does_not_write_with_every_piece(clock, django_assert_num_queries):
    with runs.running("sweep", clock) as run, django_assert_num_queries(0):
        for _ in range(1000):
            run.advance()


def test_a_second_run_of_a_name_stands_back(clock):
    with runs.running("sweep", clock), runs.running("sweep", clock) as second:
        assert second is None
    assert JobRun.objects.count() == 1


def test_two_names_run_at_once(clock):
    with runs.running("sweep", clock), runs.running("digests", clock) as second:
        assert second is not None


@pytest.mark.parametrize("silence", [SILENT_FOR + SECOND, -SILENT_FOR - SECOND])
def test_a_run_that_fell_silent_is_lost_and_the_next_one_begins(clock, silence):
    """Silent also when the clock has since gone back behind its last sign of life."""
    runs.begin("sweep", NOW)
    clock.now = NOW + silence
    with runs.running("sweep", clock) as run:
        assert run is not None
    states = JobRun.objects.order_by("pk").values_list("state", flat=True)
    assert list(states) == ["lost", "done"]


def test_a_run_taken_for_dead_that_wakes_again_changes_nothing(clock):
    with runs.running("sweep", clock) as sleeper:
        clock.now += SILENT_FOR + SECOND
        runs.begin("sweep", clock.now)
        sleeper.advance(7)
    states = JobRun.objects.order_by("pk").values_list("state", "done")
    assert list(states) == [("lost", 0), ("running", 0)]


def test_a_job_that_fails_says_what_failed_and_frees_its_name(clock, caplog):
    """What the error quotes goes to the log: the page is not one owner's alone."""
    with pytest.raises(ZeroDivisionError), runs.running("sweep", clock):
        raise ZeroDivisionError("Key (tag)=(NQ-101) already exists")
    failed = JobRun.objects.get()
    assert (failed.state, failed.outcome) == ("failed", "ZeroDivisionError; the log says more")
    assert "NQ-101" in caplog.text
    assert runs.begin("sweep", NOW) is not None


def test_old_runs_are_forgotten_and_young_ones_kept(clock):
    for age in (31, 29):
        clock.now = NOW - age * DAY
        with runs.running("sweep", clock):
            pass
    runs.forget_old_runs(NOW)
    assert JobRun.objects.get().started_at == NOW - 29 * DAY


# Leases and the clock


def take(holder, now=NOW):
    return runs.hold("beat", holder=holder, now=now, length=LENGTH)


def test_of_two_holders_the_first_keeps_the_lease_while_it_renews_it():
    assert take("one")
    assert not take("two")
    assert take("one", NOW + 20 * SECOND)
    assert not take("two", NOW + 49 * SECOND)


def test_a_lease_that_is_not_renewed_passes_on():
    take("one")
    assert take("two", NOW + LENGTH)
    assert not take("one", NOW + LENGTH + SECOND)


def test_a_lease_taken_by_a_clock_that_ran_ahead_passes_on():
    take("one", NOW + 365 * DAY)
    assert take("two", NOW)


@pytest.fixture
def two_clocks(tmp_path, monkeypatch):
    """Two schedulers as two processes would have them, which note what they tick."""
    ticked = []
    monkeypatch.setattr(queue_clock.connection, "close", lambda: None)
    monkeypatch.setattr(
        queue_clock.PersistentScheduler,
        "tick",
        lambda self, *a, **k: ticked.append(self.holder) or 60.0,
    )
    clocks = []
    for name in ("one", "two"):
        one = queue_clock.OneBeat(app, schedule_filename=str(tmp_path / name), lazy=True)
        one.holder = name
        clocks.append(one)
    return clocks, ticked


def test_of_two_clocks_one_ticks(two_clocks):
    (one, two), ticked = two_clocks
    waits = [clock.tick() for clock in (one, two, one, two)]
    assert ticked == ["one", "one"]
    assert max(waits) < queue_clock.LENGTH.total_seconds()


def test_the_second_clock_takes_over_when_the_first_dies(two_clocks):
    (one, two), ticked = two_clocks
    one.tick()
    Lease.objects.update(until=timezone.now() - SECOND)
    two.tick()
    one.tick()
    assert ticked == ["one", "two"]


def test_without_a_database_the_clock_waits_and_does_not_die(two_clocks, monkeypatch, caplog):
    def away(*args, **kwargs):
        raise OperationalError("server closed the connection")

    monkeypatch.setattr(queue_clock, "hold", away)
    (one, _), ticked = two_clocks
    assert one.tick() == queue_clock.AGAIN_S
    assert ticked == []
    assert "no_database" in caplog.text


def test_the_queue_uses_this_clock():
    assert app.conf.beat_scheduler == "scheduling.jobs.clock:OneBeat"


def test_every_entry_of_the_beat_names_a_job_that_exists():
    app.loader.import_default_modules()
    assert {entry["task"] for entry in app.conf.beat_schedule.values()} <= set(app.tasks)


# The jobs


@pytest.fixture
def unheard(world):
    """Five systems with an event each that nobody followed up."""
    record_added.disconnect(dispatch_uid="follow_up_record")
    try:
        for _ in range(5):
            head_break(make_system(world.site, world.owner), NOW - DAY)
    finally:
        record_added.connect(follow_up, dispatch_uid="follow_up_record")


def test_the_parts_of_a_sweep_cover_every_system_once(unheard):
    every = set(unfinished_records().values_list("pk", flat=True))
    shares = [Share(part, 3).of(unfinished_records(), "system_id") for part in range(3)]
    parts = [set(share.values_list("pk", flat=True)) for share in shares]
    assert set.union(*parts) == every
    assert sum(map(len, parts)) == len(every) == 5


def test_sweeping_in_parts_is_sweeping(unheard):
    reports = [sweep(NOW, Share(part, 2)) for part in range(2)]
    assert sum(report.repeated for report in reports) == 5
    assert RuleRun.objects.filter(done_at=NOW).count() == 5


def test_the_sweep_shows_what_it_did(unheard):
    tasks.sweep()
    run = JobRun.objects.get()
    assert (run.name, run.state) == ("sweep", "done")
    assert run.outcome.startswith("5 records followed up late")
    assert run.done >= 5


def test_a_sweep_for_several_workers_queues_its_parts(settings, monkeypatch):
    settings.SWEEP_PARTS = 2
    queued = []
    monkeypatch.setattr(tasks.sweep_part, "delay", lambda *args: queued.append(args))
    tasks.sweep()
    assert queued == [(0, 2), (1, 2)]


def test_sending_leaves_no_row_when_nothing_is_due(db):
    tasks.send_messages()
    assert not JobRun.objects.exists()


def test_sending_shows_how_much_was_sent(world):
    long_ago = timezone.now() - DAY
    write(kind="assignment", cause_key="one", people=[world.owner], now=long_ago)
    tasks.send_messages()
    assert JobRun.objects.get().outcome == "1 mails and deliveries handled"


def test_the_page_shows_runs_and_what_was_given_up_to_ones_own_people(client, world):
    runs.begin("sweep", timezone.now() - DAY)
    for person in (world.owner, world.stranger):
        write(kind="digest", cause_key="week", people=[person], now=NOW)
    Message.objects.update(state="failed", last_error="550 no such mailbox")
    client.force_login(world.owner)
    page = client.get(reverse("scheduling:jobs")).text
    assert "Silent" in page
    assert "550 no such mailbox" in page
    assert "Olive Manager" in page
    assert "Sol Stranger" not in page
