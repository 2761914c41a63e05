"""The weekly digest: once a week, what one person may see, and the heads that fix the ledgers."""

import csv
import hashlib
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core import mail
from django.urls import reverse

from registry.chain import record_hash
from registry.models import Record, User
from registry.services.ledger import record_body
from scheduling.messages.digest import ask_for_digests, digest_of
from scheduling.messages.sending import send_due
from scheduling.models import MailPreference, Message, Task
from tests.factories import NOW, make_system, make_user
from tests.scheduling.ledger import DAY, accept, head_break

pytestmark = pytest.mark.django_db
MONDAY = datetime(2026, 6, 1, 7, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def _joined_long_ago(world):
    User.objects.update(date_joined=NOW - 365 * DAY)


def digests():
    return Message.objects.filter(kind="digest")


def test_everybody_who_may_see_something_is_asked_for_once_a_week(world):
    assert ask_for_digests(NOW) == 5
    assert ask_for_digests(NOW + DAY) == 0
    assert ask_for_digests(NOW + 7 * DAY) == 5
    assert set(digests().values_list("cause_key", flat=True)) == {"week 2026-W23", "week 2026-W24"}


def test_monday_morning_comes_where_the_reader_is(world):
    """7:00 in London is 6:00 UTC in summer; it is still night in Chicago."""
    MailPreference.objects.create(person=world.owner, time_zone="America/Chicago")
    ask_for_digests(MONDAY - HOUR)
    assert not digests().filter(person=world.owner, cause_key="week 2026-W23").exists()
    assert digests().filter(person=world.viewer, cause_key="week 2026-W23").exists()
    ask_for_digests(MONDAY + 5 * HOUR)
    assert digests().filter(person=world.owner, cause_key="week 2026-W23").exists()


def test_before_monday_morning_nobody_is_asked_for(world):
    assert ask_for_digests(MONDAY - 2 * HOUR) == 0


def test_after_a_standstill_this_weeks_digest_comes_late_and_no_older_one(world):
    ask_for_digests(NOW - 21 * DAY)
    ask_for_digests(NOW + 2 * DAY)
    assert digests().filter(person=world.owner).count() == 2


def test_one_who_joined_after_monday_waits_for_the_next(world):
    new = make_user(world.owner_organisation)
    User.objects.filter(pk=new.pk).update(date_joined=NOW)
    ask_for_digests(NOW + HOUR)
    assert not digests().filter(person=new).exists()


def test_one_who_wants_none_is_not_asked_for(world):
    MailPreference.objects.create(person=world.owner, wants_digest=False)
    ask_for_digests(NOW)
    assert not digests().filter(person=world.owner).exists()


def titles(digest):
    return {section.title: section.count for section in digest.sections}


def test_it_counts_what_changed_what_is_late_and_what_comes_next(system, world):
    late = make_system(world.site, world.owner)
    accept(late, NOW - 60 * DAY, now=NOW - 60 * DAY)
    accept(system, NOW - 2 * DAY)
    digest = digest_of(world.owner, NOW)
    names = [line["what"] for line in digest.sections[0].lines]
    assert names == ["NQ-101, North Quay"]
    assert digest.sections[1].count == Task.objects.overdue(NOW).count() > 0
    week = Task.objects.open().due_between(NOW, NOW + 7 * DAY).count()
    assert digest.sections[2].count == week > 0
    assert digest.subject == f"Week to 1 June 2026: {digest.sections[1].count} late"


def test_a_system_that_changed_and_changed_back_is_told_with_both(system, world):
    accept(system, NOW - 6 * DAY)
    head_break(system, NOW - 2 * DAY)
    (changed, *_) = digest_of(world.owner, NOW).sections
    assert [line["note"].split(" since")[0] for line in changed.lines] == ["aerated", "inert"]


def test_it_holds_nothing_of_another_owners_book(system, world):
    head_break(system, NOW - DAY)
    digest = digest_of(world.stranger, NOW)
    assert digest is None
    make_system(world.other_site, world.stranger, tag="IS-1")
    told = str(digest_of(world.stranger, NOW))
    assert "NQ-101" not in told
    assert digest_of(world.stranger, NOW).heads.count == 1


def test_long_lists_are_cut_and_say_by_how_much(world):
    for _ in range(23):
        accept(make_system(world.site, world.owner), NOW - DAY)
    (changed, *_) = digest_of(world.owner, NOW).sections
    assert (len(changed.lines), changed.count, changed.more) == (20, 23, 3)


def sent_to(person):
    ask_for_digests(NOW)
    send_due(lambda: NOW)
    return next(sent for sent in mail.outbox if sent.to == [person.email])


def test_the_attached_heads_are_those_of_the_ledgers_and_their_digest_is_in_the_text(system, world):
    head_break(system, NOW - DAY)
    make_system(world.site, world.owner)
    sent = sent_to(world.auditor)
    (name, content, _) = sent.attachments[0]
    assert name == "chain-heads-2026-06-01.csv"
    assert hashlib.sha256(content.encode()).hexdigest() in sent.body
    heads = {uuid: (int(count), head) for uuid, count, head in csv.reader(StringIO(content))}
    last = Record.objects.filter(system=system).order_by("sequence").last()
    assert heads[str(system.uuid)] == (last.sequence, _head_again(system))
    assert len(heads) == 2


def _head_again(system) -> str:
    """The chain computed anew from the records."""
    head = ""
    for record in system.records.order_by("sequence"):
        head = record_hash(head, record_body(record))
    return head


def test_a_changed_record_no_longer_leads_to_the_mailed_head(system, world):
    head_break(system, NOW - DAY)
    content = sent_to(world.auditor).attachments[0][1]
    assert _head_again(system) in content
    Record.objects.filter(system=system, kind="event.head_break").update(note="It never happened.")
    assert _head_again(system) not in content


def test_those_who_do_not_keep_the_heads_get_their_digest_alone(system, world):
    sent = sent_to(world.viewer)
    assert sent.attachments == []
    assert digest_of(world.viewer, NOW).heads.sha256 in sent.body


def test_few_systems_are_listed_with_their_heads_and_many_are_not(system, world, monkeypatch):
    sent = sent_to(world.viewer)
    system.refresh_from_db()
    for text in (sent.body, sent.alternatives[0][0]):
        assert system.head_hash in text
        assert "NQ-101, North Quay" in text
    monkeypatch.setattr("scheduling.messages.chain_heads.LISTED", 0)
    many = digest_of(world.viewer, NOW).heads
    assert (many.lines, many.count) == ([], 1)


def test_the_link_leads_to_the_lines_as_they_were_when_the_digest_was_written(
    system, world, client
):
    heads = digest_of(world.viewer, NOW).heads
    head_break(system, NOW + HOUR, now=NOW + 2 * HOUR)
    make_system(world.site, world.owner, now=NOW + 2 * HOUR)
    client.force_login(world.viewer)
    path = heads.link.partition("localhost:8000")[2]
    then, today = client.get(path), client.get(path.partition("?")[0])
    assert hashlib.sha256(then.content).hexdigest() == heads.sha256
    assert (then.text.count("\n"), today.text.count("\n")) == (1, 2)
    client.force_login(world.stranger)
    assert client.get(path).content == b""
    assert then["Content-Disposition"] == 'attachment; filename="chain-heads-2026-06-01.csv"'


@pytest.mark.parametrize("at", ["soon", "2026-06-01T07:00:00", "2026-02-31T07:00:00Z"])
def test_a_time_that_cannot_be_read_is_refused_with_what_would_be_right(client, world, at):
    client.force_login(world.viewer)
    answer = client.get(reverse("scheduling:heads"), {"at": at})
    assert (answer.status_code, "write it as the digest does" in answer.text) == (400, True)


def test_one_who_lost_all_access_gets_no_digest(system, world):
    ask_for_digests(NOW)
    world.viewer.memberships.all().delete()
    send_due(lambda: NOW)
    assert digests().get(person=world.viewer).state == "dropped"


def test_a_system_whose_register_is_incomplete_is_told_of_as_such(system, world):
    accept(system, NOW - 2 * DAY)
    whole = digest_of(world.owner, NOW)
    assert "incomplete" not in str(whole)
    type(system).objects.filter(pk=system.pk).update(open_rows=3)
    told = digest_of(world.owner, NOW)
    (changed, *_, last) = told.sections
    assert (last.title, last.count) == ("Whose register is incomplete", 1)
    assert last.lines[0]["note"].startswith("Incomplete: 3 rows of the register are still")
    assert changed.lines[0]["note"].endswith("Its register is incomplete.")
