"""What the sweep brings in: rules that failed, messages that were lost, what time alone does."""

from dataclasses import replace
from io import StringIO

import pytest
from django.core import mail
from django.core.management import call_command
from django.urls import reverse

from registry.models import AtmosphereSpan, OwnerPolicy, Record, ServiceContract, Site
from registry.signals import record_added
from scheduling.jobs.kinds import SWEEP
from scheduling.jobs.sweep import sweep, systems_to_revisit, unfinished_records
from scheduling.messages.outbox import GATHERING
from scheduling.messages.sending import send_due
from scheduling.models import RuleFailure, RuleRun, SystemWatch, Task
from scheduling.receivers import follow_up
from scheduling.rules import RULES
from scheduling.rules.atmosphere import AERATED
from scheduling.rules.types import GasRule
from scheduling.services import following
from tests.factories import NOW, make_record, make_site, make_system
from tests.jobs import run_job
from tests.scheduling.ledger import DAY, DOUBT, ORDER, accept, confirmations, head_break, open_work

pytestmark = pytest.mark.django_db
BROKEN = "broken"


def fails(facts):
    raise ZeroDivisionError("a bug in a rule")


@pytest.fixture
def broken_rule(monkeypatch):
    """One rule with a bug in it, until it is fixed; it stands before the others."""
    broken = GasRule(
        code="broken",
        title="Divide by nothing",
        says="Fails.",
        waits_for="a fix",
        work=AERATED.work,
        drafting=fails,
    )
    monkeypatch.setattr("scheduling.rules.RULES", (broken, *RULES))
    return monkeypatch


@pytest.fixture
def broken_standpoint(monkeypatch):
    """Nothing can be said of any system, until that is fixed."""
    monkeypatch.setattr(following, "standpoint", lambda *args: fails(None))
    return monkeypatch


@pytest.fixture
def lost_messages():
    """Records are written and nobody hears of it."""
    record_added.disconnect(dispatch_uid="follow_up_record")
    yield
    record_added.connect(follow_up, dispatch_uid="follow_up_record")


def test_a_rule_that_raises_leaves_the_other_rules_of_its_system_alone(system, broken_rule, caplog):
    event = head_break(system, NOW - DAY)
    assert open_work(system) == [ORDER]
    assert RuleRun.objects.get(record=event).done_at == NOW
    failure = RuleFailure.objects.get()
    assert (failure.system, failure.rule, failure.since) == (system, "broken", NOW)
    assert failure.error == "ZeroDivisionError: a bug in a rule"
    assert "Rule broken failed" in caplog.text


def test_the_follow_ups_of_a_rule_that_fails_stay_as_they_are(system, monkeypatch):
    head_break(system, NOW - 2 * DAY)
    order = system.tasks.get(rule="aerated")
    broken = tuple(replace(rule, drafting=fails) if rule is AERATED else rule for rule in RULES)
    monkeypatch.setattr("scheduling.rules.RULES", broken)
    accept(system, NOW - DAY)
    order.refresh_from_db()
    assert order.is_open
    assert system.tasks.open().filter(rule="accepted").exists()
    monkeypatch.undo()
    sweep(NOW)
    order.refresh_from_db()
    assert order.status == "done"
    assert not RuleFailure.objects.exists()


def test_a_rule_whose_follow_up_cannot_be_written_leaves_the_others_alone(system, monkeypatch):
    def cannot_be_stored(facts):
        yield replace(next(AERATED.drafts(facts)), rule=BROKEN, assigned_to=-1, due_because=None)

    broken = replace(AERATED, code=BROKEN, drafting=cannot_be_stored)
    monkeypatch.setattr("scheduling.rules.RULES", (broken, *RULES))
    head_break(system, NOW - DAY)
    assert open_work(system) == [ORDER]
    assert RuleFailure.objects.get().rule == BROKEN


def test_the_sweep_repeats_a_rule_that_failed_and_counts_it(system, world, broken_rule):
    other = make_system(world.site, world.owner, tag="NQ-102")
    for one in (system, other):
        head_break(one, NOW - DAY)
    report = sweep(NOW)
    assert (report.moved, report.failed) == (0, 2)
    assert {failure.attempts for failure in RuleFailure.objects.all()} == {2}
    broken_rule.undo()
    assert sweep(NOW).moved == 2
    assert not RuleFailure.objects.exists()


def told_of_rules(now) -> list:
    mail.outbox.clear()
    send_due(lambda: now + GATHERING)
    return sorted(
        (sent.to[0], sent.body) for sent in mail.outbox if "could not be applied" in sent.subject
    )


def test_a_rule_that_fails_is_told_to_the_owners_managers_once_until_it_is_mended(
    system, world, broken_rule
):
    head_break(system, NOW - DAY)
    ((person, said),) = told_of_rules(NOW)
    assert person == world.owner.email
    assert "Rule “Divide by nothing” could not be applied to NQ-101 since" in said
    head_break(system, NOW - DAY / 2)
    sweep(NOW + DAY)
    assert told_of_rules(NOW + DAY) == []
    broken_rule.undo()
    sweep(NOW + 2 * DAY)
    broken = replace(AERATED, code=BROKEN, drafting=fails)
    broken_rule.setattr("scheduling.rules.RULES", (broken, *RULES))
    head_break(system, NOW + 2 * DAY, now=NOW + 2 * DAY)
    assert len(told_of_rules(NOW + 2 * DAY)) == 1


def test_a_rule_that_was_mended_before_the_mail_went_is_told_to_nobody(system, broken_rule):
    head_break(system, NOW - DAY)
    broken_rule.undo()
    sweep(NOW)
    assert told_of_rules(NOW) == []


def test_a_mail_about_a_rule_that_cannot_be_written_leaves_the_orders(
    system, broken_rule, monkeypatch
):
    monkeypatch.setattr(following, "note_rule_failure", lambda *args: fails(None))
    head_break(system, NOW - DAY)
    assert open_work(system) == [ORDER]
    assert RuleFailure.objects.exists()


def test_the_pages_say_which_rule_could_not_be_applied_to_which_system(
    system, world, client, broken_rule
):
    head_break(system, NOW - DAY)
    client.force_login(world.owner)
    said = "Rule “Divide by nothing” could not be applied to NQ-101 since"
    for page in (system.get_absolute_url(), reverse("scheduling:jobs")):
        text = client.get(page).content.decode()
        assert said in text and "what it would ask for is not known." in text
    client.force_login(world.stranger)
    assert said not in client.get(reverse("scheduling:jobs")).content.decode()


def test_what_fails_before_any_rule_leaves_the_record_and_an_open_run(
    system, broken_standpoint, caplog
):
    event = head_break(system, NOW - DAY)
    assert Record.objects.filter(pk=event.pk).exists()
    assert AtmosphereSpan.objects.filter(system=system, cause=event).exists()
    run = RuleRun.objects.get(record=event)
    assert (run.done_at, run.attempts) == (None, 1)
    assert run.error == "ZeroDivisionError: a bug in a rule"
    assert not Task.objects.exists()
    assert "the sweep will repeat them" in caplog.text


def test_the_sweep_finishes_what_could_not_be_begun(system, broken_standpoint):
    event = head_break(system, NOW - DAY)
    broken_standpoint.undo()
    report = sweep(NOW)
    run = RuleRun.objects.get(record=event)
    assert (run.done_at, run.error, run.attempts) == (NOW, "", 2)
    assert (report.repeated, report.failed) == (1, 0)
    assert open_work(system) == [ORDER]


def test_the_sweep_goes_on_past_a_system_of_which_nothing_can_be_said(
    system, world, broken_standpoint
):
    other = make_system(world.site, world.owner, tag="NQ-102")
    events = [head_break(one, NOW - DAY) for one in (system, other)]
    report = sweep(NOW)
    assert report.repeated == 0 and report.failed >= len(events)
    assert {run.attempts for run in RuleRun.objects.all()} == {2}


def test_the_sweep_follows_up_records_whose_message_was_lost(system, lost_messages):
    head_break(system, NOW - DAY)
    assert not Task.objects.exists() and not RuleRun.objects.exists()
    sweep(NOW)
    assert open_work(system) == [ORDER]


def test_a_second_sweep_finds_nothing_left_to_do(system, lost_messages):
    head_break(system, NOW - DAY)
    sweep(NOW)
    report = sweep(NOW + DAY / 24)
    assert (report.repeated, report.moved, report.republished, report.failed) == (0, 0, 0, 0)


def test_time_alone_puts_a_system_in_doubt_and_the_sweep_says_so_on_the_late_reading(system):
    accept(system, NOW - DAY)
    later = NOW + 10 * DAY
    assert system in systems_to_revisit(later)
    sweep(later)
    assert open_work(system) == confirmations(1, 30, 365)
    late = system.tasks.get(title="Next-day nitrogen check")
    assert "Late since" in late.why and "overdue" in late.why


def test_time_alone_asks_for_a_reading_where_none_was_scheduled(system, world):
    OwnerPolicy.objects.create(
        owner=world.owner_organisation, confirming_days=[1], confirming_repeat_days=0
    )
    accept(system, NOW - 2 * DAY)
    make_record(system, "reading.gas", NOW - DAY, n2_percent=98.5)
    assert open_work(system) == []
    later = NOW + 500 * DAY
    sweep(later)
    task = Task.objects.open().get()
    assert (task.rule, task.title, task.cause) == (*DOUBT, None)
    assert task.cause_key.startswith("time:")
    sweep(later + 30 * DAY)
    assert Task.objects.open().get().uuid == task.uuid


def test_systems_that_were_never_inerted_are_not_walked_through(world):
    for number in range(3):
        make_system(world.site, world.owner, tag=f"NQ-20{number}")
    assert not systems_to_revisit(NOW).exists()
    assert not unfinished_records().exists()


def test_a_site_that_changed_its_zone_has_its_work_planned_anew(system):
    head_break(system, NOW - DAY)
    before = Task.objects.get()
    Site.objects.update(time_zone="America/Chicago")
    sweep(NOW)
    task = Task.objects.get()
    assert (before.time_zone, task.time_zone) == ("Europe/London", "America/Chicago")
    assert task.starts_at.astimezone(task.zone).hour == 8
    assert task.sequence == before.sequence + 1


def test_work_follows_the_contract_in_force(system, world):
    head_break(system, NOW - DAY)
    ServiceContract.objects.update(ends_on=(NOW - DAY).date())
    sweep(NOW)
    assert Task.objects.get().assigned_to == world.owner_organisation


def test_a_failing_system_does_not_keep_the_others_waiting(system, world, monkeypatch):
    other = make_system(world.site, world.owner, tag="NQ-102")
    for one in (system, other):
        accept(one, NOW - DAY)
    real = following.standpoint

    def fails_for_one(ledger, now):
        if ledger.system.pk == system.pk:
            raise ZeroDivisionError("bad facts")
        return real(ledger, now)

    monkeypatch.setattr(following, "standpoint", fails_for_one)
    report = sweep(NOW + 10 * DAY)
    assert (report.moved, report.failed) == (1, 1)
    assert SystemWatch.objects.get(system=other).state == "in_doubt"
    assert SystemWatch.objects.get(system=system).state == "inert"


def test_the_sweep_reads_chunk_by_chunk_and_misses_none(world, lost_messages, monkeypatch):
    monkeypatch.setattr("scheduling.jobs.sweep.CHUNK", 2)
    site = make_site(world.owner_organisation, world.contractor, name="South Quay")
    systems = [make_system(site, world.owner) for _ in range(5)]
    for system in systems:
        head_break(system, NOW - DAY)
    assert sweep(NOW).repeated == 5
    assert Task.objects.open().count() == 5


def test_the_job_and_the_command_run_the_same_sweep(system, lost_messages):
    head_break(system, NOW - DAY)
    said = StringIO()
    call_command("sweep", stdout=said)
    assert said.getvalue().startswith("Swept: 1 records followed up late")
    run_job(SWEEP)
    assert open_work(system) == [ORDER]


def test_republishing_is_counted(system):
    head_break(system, NOW - DAY)
    Site.objects.update(name="North Quay and Slip")
    assert sweep(NOW).republished == 1
    assert sweep(NOW).republished == 0


def test_a_quiet_sweep_asks_the_same_few_questions_however_many_systems_there_are(
    world, django_assert_num_queries
):
    for number in range(4):
        accept(make_system(world.site, world.owner, tag=f"NQ-20{number}"), NOW - DAY)
    with django_assert_num_queries(8):
        sweep(NOW)
