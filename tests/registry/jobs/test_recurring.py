"""Jobs that recur wait as rows with their next time, whatever the clock does."""

from datetime import UTC, datetime, timedelta

import pytest

from registry.jobs import claims
from registry.jobs.asking import plan_recurring
from registry.jobs.kinds import DAY, KINDS, MINUTE, Every, job
from registry.models import Job

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)
YEAR = timedelta(days=365)


def test_the_next_time_is_later_than_now_and_keeps_its_hour():
    nightly = Every(DAY, 45 * MINUTE)
    assert nightly.after(NOON) == datetime(2026, 6, 2, 0, 45, tzinfo=UTC)
    assert nightly.after(datetime(2026, 6, 2, 0, 45, tzinfo=UTC)).day == 3
    assert Every(10 * MINUTE).after(NOON + 3 * MINUTE) == NOON + 10 * MINUTE


def waiting():
    return list(Job.objects.filter(state="waiting").values_list("run_after", flat=True))


def test_the_first_run_is_due_at_once_and_the_next_waits_beside_it(done):
    plan_recurring(NOON)
    assert claims.claim(NOON, "a:1").kind == "test.often"
    plan_recurring(NOON + MINUTE)
    plan_recurring(NOON + MINUTE)
    assert waiting() == [NOON + 10 * MINUTE]


def test_a_run_that_takes_longer_than_its_interval_is_not_joined_by_the_next(done):
    plan_recurring(NOON)
    slow = claims.claim(NOON, "a:1")
    plan_recurring(NOON)
    claims.keep(slow, NOON + 11 * MINUTE)
    assert claims.claim(NOON + 11 * MINUTE, "a:1") is None
    claims.end(slow, "", NOON + 12 * MINUTE)
    assert claims.claim(NOON + 12 * MINUTE, "a:1") is not None


def test_a_clock_that_jumps_a_year_ahead_and_back_leaves_the_next_run_where_it_was(done):
    plan_recurring(NOON)
    for now in (NOON + YEAR, NOON):
        ran = claims.claim(now, "a:1")
        assert ran is not None, now
        claims.end(ran, "", now)
        plan_recurring(now)
        assert waiting() == [now + 10 * MINUTE]
        plan_recurring(NOON)
        assert waiting() == [NOON + 10 * MINUTE]
        Job.objects.filter(state="waiting").update(run_after=NOON)


def test_what_was_missed_while_no_worker_ran_is_done_once(done):
    plan_recurring(NOON)
    claims.end(claims.claim(NOON, "a:1"), "", NOON)
    plan_recurring(NOON)
    later = NOON + 3 * DAY
    plan_recurring(later)
    claims.end(claims.claim(later, "a:1"), "", later)
    plan_recurring(later)
    assert claims.claim(later, "a:1") is None


def test_a_run_with_nothing_to_do_leaves_no_row_behind(done):
    job("test.often", "Often", every=Every(MINUTE), is_idle=lambda now: True)(KINDS["test.once"])
    plan_recurring(NOON)
    assert claims.claim(NOON, "a:1") is None
    assert waiting() == [NOON + MINUTE]


def test_one_that_failed_for_good_comes_again_at_its_time(done):
    plan_recurring(NOON)
    now = NOON
    for _ in range(3):
        failed = claims.claim(now, "a:1")
        claims.fail(failed, "no", now)
        plan_recurring(now)
        failed.refresh_from_db()
        now = max(now, failed.run_after)
    assert failed.state == "given_up"
    assert claims.claim(now + 10 * MINUTE, "a:1") is not None


def test_every_recurring_kind_of_the_book_is_planned(db):
    plan_recurring(NOON)
    assert {"scheduling.sweep", "scheduling.messages", "scheduling.assessments"} <= set(
        Job.objects.values_list("kind", flat=True)
    )
