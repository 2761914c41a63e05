"""Jobs are claimed once, seen to live, tried again, and given up aloud."""

from datetime import timedelta

import pytest

from registry.jobs import claims
from registry.jobs.asking import ask
from registry.jobs.kinds import job
from registry.jobs.process import run_here
from registry.jobs.run import Run
from registry.models import Job
from registry.models.jobs import SILENT_FOR
from scheduling.models import Message
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("done")]
SECOND, DAY, YEAR = timedelta(seconds=1), timedelta(days=1), timedelta(days=365)


def asked(**facts) -> Job:
    ask("test.once", now=NOW, **facts)
    return Job.objects.latest("pk")


def test_what_is_asked_twice_under_one_key_waits_once_and_runs_anew_beside_a_running_one():
    for _ in range(2):
        ask("test.once", key="12", now=NOW)
    assert Job.objects.count() == 1
    first = claims.claim(NOW, "a:1")
    ask("test.once", key="12", now=NOW)
    assert Job.objects.count() == 2
    assert claims.claim(NOW, "b:2") is None, "two of one key at once"
    claims.end(first, "", NOW)
    assert claims.claim(NOW, "b:2") is not None


def test_without_a_key_each_is_another_job():
    for _ in range(2):
        asked()
    assert [claims.claim(NOW, "a:1") is not None for _ in range(3)] == [True, True, False]


def test_of_two_workers_that_saw_the_same_row_one_takes_it():
    seen = asked()
    assert claims._take(seen, "a:1", NOW)
    late = Job(pk=seen.pk, kind=seen.kind, state="waiting", claim=None)
    assert not claims._take(late, "b:2", NOW)


@pytest.mark.parametrize("silence", [SILENT_FOR + SECOND, -SILENT_FOR - SECOND])
def test_a_job_that_fell_silent_is_taken_over_and_its_first_worker_changes_nothing(silence):
    """Silent also when the clock has since gone back behind its last sign of life."""
    asked()
    first = claims.claim(NOW, "a:1")
    assert claims.claim(NOW + SILENT_FOR, "b:2") is None
    second = claims.claim(NOW + silence, "b:2")
    assert (second.pk, second.attempts) == (first.pk, 2)
    assert not claims.keep(first, NOW + silence)
    claims.end(first, "by the first", NOW + silence)
    assert Job.objects.get().state == "running"


def test_a_job_that_says_it_lives_is_left_alone():
    asked()
    job = claims.claim(NOW, "a:1")
    assert claims.keep(job, NOW + SILENT_FOR)
    assert claims.claim(NOW + SILENT_FOR + SECOND, "b:2") is None


def test_the_job_of_a_dead_process_of_this_machine_is_free_at_once():
    asked()
    host = claims.this_worker().rpartition(":")[0]
    claims.claim(NOW, f"{host}:{2**22 + 1}")  # above every process number
    claims.sign(claims.this_worker(), NOW, NOW)
    assert claims.claim(NOW, claims.this_worker()) is not None


def test_a_job_that_fails_is_tried_again_after_growing_pauses_and_then_given_up(done, world):
    job = asked(owner=world.owner_organisation)
    now, waits = NOW, []
    for _ in range(3):
        job = claims.claim(now, "a:1")
        claims.fail(job, "It was killed (SIGKILL).", now)
        job.refresh_from_db()
        waits.append(job.run_after - now)
        assert claims.claim(now, "a:1") is None
        now = max(now, job.run_after)
    assert waits[0] < waits[1]
    assert (job.state, job.attempts, job.error) == ("given_up", 3, "It was killed (SIGKILL).")
    assert done == ["It was killed (SIGKILL)."]
    told = Message.objects.get()
    assert (told.kind, told.person, told.body) == ("job", world.owner, f"Once: {done[0]}")


def test_a_job_whose_workers_all_died_with_it_is_given_up(done, caplog):
    asked()
    now = NOW
    for _ in range(3):
        assert claims.claim(now, "a:1") is not None
        now += SILENT_FOR + SECOND
    assert claims.claim(now, "a:1") is None
    assert Job.objects.get().state == "given_up"
    assert len(done) == 1
    assert "jobs.given_up" in caplog.text


def test_a_worker_that_stops_puts_its_job_back_and_no_attempt_is_counted():
    asked()
    claims.put_back(claims.claim(NOW, "a:1"), NOW)
    assert claims.claim(NOW, "b:2").attempts == 1


def test_a_pause_of_a_clock_that_ran_ahead_is_over_when_it_is_right_again():
    asked()
    claims.fail(claims.claim(NOW + YEAR, "a:1"), "no", NOW + YEAR)
    assert claims.claim(NOW, "a:1") is not None


def test_the_work_gets_its_arguments_and_its_outcome_is_kept(done, clock):
    asked(arguments={"batch": 3})
    job = claims.claim(NOW, "a:1")
    run_here(job, clock)
    job.refresh_from_db()
    assert (done, job.state) == ([{"batch": 3}], "done")


def test_an_error_is_named_on_the_page_and_quoted_in_the_log_alone(clock, caplog):
    def break_down(run):
        raise ZeroDivisionError("Key (tag)=(NQ-101) already exists")

    job("test.once", "Once")(break_down)
    asked()
    run_here(claims.claim(NOW, "a:1"), clock)
    kept = Job.objects.get()
    assert (kept.state, kept.error) == ("paused", "ZeroDivisionError; the log says more.")
    assert "NQ-101" in caplog.text


def test_a_busy_job_does_not_write_with_every_piece(clock, django_assert_num_queries):
    asked()
    run = Run(claims.claim(NOW, "a:1"), clock)
    with django_assert_num_queries(0):
        for _ in range(1000):
            run.advance()
    clock.now += 10 * SECOND
    run.advance()
    assert Job.objects.get().done == 1001


def test_old_jobs_are_forgotten_and_young_ones_kept():
    for age in (31, 29):
        asked()
        claims.end(claims.claim(NOW, "a:1"), "", NOW - age * DAY)
    claims.forget_old(NOW)
    assert Job.objects.get().ended_at == NOW - 29 * DAY


def test_a_row_of_an_unknown_kind_waits_for_a_program_that_knows_it():
    ask("later.kind", now=NOW)
    assert claims.claim(NOW, "a:1") is None
    assert Job.objects.get().state == "waiting"


def test_the_last_worker_that_was_seen():
    assert claims.last_seen() is None
    claims.sign("a:1", NOW, NOW)
    assert claims.last_seen() == NOW
