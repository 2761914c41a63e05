"""Every rule, told or not, from a record to the order, the feed, the mail, the day and the log."""

import pytest
import vobject
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from registry.kinds import KINDS
from registry.models import System
from registry.pages.cautions import CAUTIONS
from scheduling.calendars.tokens import issue_token
from scheduling.messages import outbox
from scheduling.messages.sending import send_due
from scheduling.models import Task
from scheduling.rules import RULES, work_of
from tests.factories import make_system
from tests.scheduling.ledger import DAY
from tests.scheduling.orders_world import HOUR, book
from tests.scheduling.rules.cases import CASES

pytestmark = pytest.mark.django_db
each_rule = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
WORDS = ("code", "title", "says", "waits_for", "basis")
WORK_WORDS = ("code", "label", "caution")


def case_of(rule):
    if rule.code not in CASES:
        pytest.fail(f"tests/scheduling/rules/cases.py holds no case of the rule {rule.code}.")
    return CASES[rule.code]


@pytest.fixture
def now():
    """Pages read the clock, so these ledgers stand in the present."""
    return timezone.now().replace(minute=0, second=0, microsecond=0)


@pytest.fixture
def system(world, now):
    return make_system(
        world.site, world.owner, now=now - 60 * DAY, kind="dry",
        gas_supply=System.GasSupply.GENERATOR, supply_n2_percent=98.0,
    )  # fmt: skip


@pytest.fixture
def task(rule, system, now) -> Task:
    """The follow-up that the rule raises."""
    case_of(rule).raises(system, now)
    raised = Task.objects.open().filter(system=system, rule=rule.code).order_by("due_at").first()
    assert raised, f"{rule.code} raised nothing from the records of its case"
    return raised


@pytest.fixture
def worker(rule, world):
    return world.owner if rule.work.stays_with_owner else world.technician


def page(person, address):
    client = Client()
    client.force_login(person)
    return client.get(address)


def text_of(response) -> str:
    assert response.status_code == 200
    return response.content.decode()


def test_no_two_rules_share_a_code_and_no_two_works():
    codes = [rule.code for rule in RULES]
    assert len(set(codes)) == len(codes)
    works = {rule.work.code: rule.work for rule in RULES}
    assert all(works[rule.work.code] is rule.work for rule in RULES)


@each_rule
def test_a_rule_says_all_that_follows_from_it(rule):
    work = rule.work
    for where, names in ((rule, WORDS), (work, WORK_WORDS)):
        for name in names:
            assert getattr(where, name).strip(), f"{rule.code}: {name} is empty"
    assert work.caution.endswith("."), f"{rule.code}: the caution is no whole sentence"
    assert work.cautions and set(work.cautions) <= CAUTIONS.keys()
    answers = work.answer_kinds or work.is_answered_in_place
    assert answers, f"{rule.code}: no kind of record answers it"
    assert work.to_load, f"{rule.code}: nothing to load"
    assert work.log, f"{rule.code}: nothing to log"
    for kind in (*rule.reads, *work.answer_kinds, *(one.kind for one in work.log if one.kind)):
        assert KINDS[kind.code] is kind
    assert all(one.kind.is_entered_by_hand for one in work.log if one.kind)
    assert 1 <= rule.priority <= 9
    assert len(rule.code) <= 40 and len(work.code) <= 24
    assert work_of(work.code) is work


@each_rule
def test_the_order_goes_to_whoever_does_the_work(rule, task, world):
    owner, contractor = world.owner_organisation, world.contractor
    assert task.assigned_to == (owner if rule.work.stays_with_owner else contractor)
    assert task.work is rule.work
    assert task.title and task.why and task.due_because


@each_rule
def test_the_feed_shows_it(rule, task, worker):
    _, secret = issue_token(user=worker, label="Work", scope="person", now=timezone.now())
    response = Client().get(reverse("scheduling:feed", args=[secret]))
    events = vobject.readOne(text_of(response)).vevent_list
    (event,) = [event for event in events if event.uid.value == str(task.uuid)]
    assert task.title in event.summary.value
    assert rule.work.caution in event.description.value
    assert event.priority.value == str(rule.priority)
    assert rule.work.label in event.categories.value


@each_rule
def test_a_mail_tells_of_it(rule, task, worker, now):
    send_due(lambda: now + outbox.GATHERING)
    sent = [one for one in mail.outbox if worker.email in one.to and task.title in one.body]
    assert sent and rule.work.caution in sent[0].body


@each_rule
def test_the_day_list_says_what_to_load(rule, task, worker, now):
    booked = book(task, worker, _bookable(task, now), now=now, reason="As agreed.")
    on = booked.starts_at.astimezone(booked.zone).date()
    shown = text_of(page(worker, reverse("scheduling:day") + f"?on={on}"))
    assert task.title in shown
    assert all(thing in shown for thing in rule.work.to_load)


def _bookable(task, now):
    return max(now + DAY, task.opens_at or now) + HOUR


@each_rule
def test_its_page_leads_to_where_the_work_is_logged(rule, task, worker):
    shown = text_of(page(worker, task.get_absolute_url()))
    for offer in rule.work.log:
        name, more = ("record-new", [offer.kind.code]) if offer.kind else ("run-plan", [])
        address = reverse(offer.page or f"registry:{name}", args=[task.system_id, *more])
        assert f'href="{address}"' in shown
        assert offer.label in shown
        assert page(worker, address).status_code == 200


@each_rule
def test_the_record_that_answers_it_closes_it(rule, task, system, now):
    case_of(rule).answers(system, now)
    task.refresh_from_db()
    assert task.status == "done"
    if rule.work.is_answered_in_place:
        assert task.closed_by.supersedes == task.cause
    else:
        assert task.closed_by.kind in {kind.code for kind in rule.work.answer_kinds}


@each_rule
def test_the_owner_can_switch_it_off(rule, task, world):
    owner = [world.site.owner_id]
    rules = text_of(page(world.owner, reverse("scheduling:rules-owner", args=owner)))
    assert rule.title in rules
    edit = reverse("scheduling:rule-edit", args=[*owner, rule.code])
    assert page(world.owner, edit).status_code == 200
