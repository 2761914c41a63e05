"""The jobs of the schedule, and the page that shows what the worker does."""

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.jobs import claims
from registry.jobs.asking import ask
from registry.models import Job
from registry.signals import record_added
from scheduling.jobs import kinds
from scheduling.jobs.sweep import Share, sweep, unfinished_records
from scheduling.messages import sending
from scheduling.messages.outbox import write
from scheduling.models import Message, RuleRun
from scheduling.receivers import follow_up
from tests.factories import NOW, make_system
from tests.jobs import run_job
from tests.scheduling.ledger import DAY, head_break

pytestmark = pytest.mark.django_db


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
    run = run_job(kinds.SWEEP)
    assert run.state == "done"
    assert run.outcome.startswith("5 records followed up late")
    assert run.done >= 5


def test_a_sweep_for_several_workers_asks_for_its_parts(unheard, settings):
    settings.SWEEP_PARTS = 2
    run_job(kinds.SWEEP)
    parts = Job.objects.filter(kind=kinds.SWEEP_PART)
    assert [part.arguments for part in parts.order_by("pk")] == [
        {"part": 0, "parts": 2}, {"part": 1, "parts": 2},
    ]  # fmt: skip
    for _ in range(2):
        part = claims.claim(timezone.now(), "a:1")
        kinds.sweep_part(claims_run(part))
    assert RuleRun.objects.exclude(done_at=None).count() == 5


def claims_run(job):
    from registry.jobs.run import Run

    return Run(job, timezone.now)


def test_sending_leaves_no_row_when_nothing_is_due(world):
    ask(kinds.MESSAGES, key="", now=NOW)
    assert claims.claim(timezone.now(), "a:1") is None


def test_sending_shows_how_much_was_sent(world):
    long_ago = timezone.now() - DAY
    write(kind="assignment", cause_key="one", people=[world.owner], now=long_ago)
    assert run_job(kinds.MESSAGES).outcome == "1 mails and deliveries handled"


def test_a_job_given_up_is_mailed_to_those_who_keep_the_book(world, mailoutbox):
    type(world.technician).objects.filter(pk=world.technician.pk).update(is_staff=True)
    ask(kinds.SWEEP, key="", now=NOW)
    job = claims.claim(NOW, "a:1")
    claims.give_up(job, "It was killed (SIGKILL).", NOW)
    sending.send_due(lambda: NOW)
    (mail,) = mailoutbox
    assert mail.to == [world.technician.email]
    assert "Sweep: It was killed (SIGKILL)." in mail.body
    assert "tried this three times" in mail.body


def page_of(client, person):
    client.force_login(person)
    return client.get(reverse("scheduling:jobs")).text


def test_the_page_shows_runs_and_what_was_given_up_to_ones_own_people(client, world):
    ask(kinds.SWEEP, key="", now=NOW)
    claims.claim(timezone.now() - DAY, "a:1")
    for person in (world.owner, world.stranger):
        write(kind="digest", cause_key="week", people=[person], now=NOW)
    Message.objects.update(state="failed", last_error="550 no such mailbox")
    page = page_of(client, world.owner)
    assert "Silent" in page
    assert "550 no such mailbox" in page
    assert "Olive Manager" in page
    assert "Sol Stranger" not in page


def test_the_page_says_when_no_worker_runs(client, world):
    assert "No worker has run yet." in page_of(client, world.owner)
    claims.sign("a:1", NOW, timezone.now() - DAY)
    assert "No worker is running." in page_of(client, world.owner)
    claims.sign("b:2", NOW, timezone.now())
    assert "A worker was seen at" in page_of(client, world.owner)


def test_a_job_of_one_owner_is_not_shown_to_another(client, world):
    ask("registry.import", key="1", arguments={"batch": 1}, owner=world.owner_organisation, now=NOW)
    claims.give_up(claims.claim(NOW, "a:1"), "It took 4.7 GB", NOW)
    assert "4.7 GB" in page_of(client, world.owner)
    assert "4.7 GB" not in page_of(client, world.stranger)


def test_what_a_job_for_every_book_counted_is_shown_to_no_single_owner(client, world):
    ask(kinds.DIGESTS, key="", now=NOW)
    claims.end(claims.claim(NOW, "a:1"), "17 weekly digests asked for", NOW)
    assert "17 weekly" not in page_of(client, world.owner)
    type(world.owner).objects.filter(pk=world.owner.pk).update(is_staff=True)
    assert "17 weekly" in page_of(client, world.owner)
