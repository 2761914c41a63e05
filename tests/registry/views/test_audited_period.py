"""Pages of a system and its runs for an auditor whose access is of a period."""

from datetime import timedelta

import pytest
from django.urls import reverse

from registry.models import AuditAccess, InertingRun, Membership
from tests.factories import NOW, make_record
from tests.kept import Kept
from tests.registry.verifying.book import BEGUN, make_book

KEPT = Kept(make_book)
DAY = timedelta(days=1)


@pytest.fixture
def book(world):
    return KEPT(world)


@pytest.fixture
def read(client, world, book):
    """What the auditor reads of an address, from and before the given moments."""

    def of(name="registry:system", key=None, since=None, until=None, reader=None):
        rows = AuditAccess.objects.filter(owner=world.owner_organisation)
        rows.update(happened_from=since, happened_before=until)
        client.force_login(reader or world.auditor)
        answer = client.get(reverse(name, args=[key or book.system.pk]))
        return answer.status_code, answer.content.decode(errors="replace")  # a paper is no text

    return of


def told(system, world, when, text):
    return make_record(system, "event.observation", when, world.owner, text=text)


def test_records_of_another_time_are_not_on_the_page_of_the_system(read, world, book):
    told(book.system, world, NOW - 40 * DAY, "Rust at the old vent")
    told(book.system, world, NOW - 20 * DAY, "Paint on a sprinkler")
    status, page = read(since=NOW - 30 * DAY, until=NOW - 10 * DAY)
    assert status == 200
    assert "Paint on a sprinkler" in page and "Rust at the old vent" not in page
    assert "One record" in page and "follow from all records" in page
    _, earlier = read(until=NOW - 30 * DAY)
    assert "Rust at the old vent" in earlier and "Paint on a sprinkler" not in earlier
    _, all_of_it = read()
    assert "The latest 20 of" in all_of_it and "Your access is of a period" not in all_of_it


def test_the_state_at_the_end_of_a_period_that_is_over_is_told(read):
    _, page = read(until=NOW - 10 * DAY)
    assert "as the book knows it now:" in page and "You read what happened before" in page
    _, still_running = read(since=NOW - 30 * DAY, until=None)
    assert "as the book knows it now:" not in still_running
    assert "You read what happened from" in still_running


@pytest.mark.parametrize("name", ["registry:run", "reports:certificate"])
def test_a_run_is_read_where_all_of_its_steps_are_of_the_period(read, book, name):
    within = read(name, book.run.pk, since=BEGUN - DAY, until=BEGUN + DAY)
    begun_before = read(name, book.run.pk, since=BEGUN + timedelta(minutes=12))
    ended_after = read(name, book.run.pk, until=BEGUN + timedelta(minutes=12))
    assert [status for status, _ in (within, begun_before, ended_after)] == [200, 404, 404]


def test_runs_of_another_time_are_not_listed(read, book):
    address = InertingRun.objects.get(pk=book.run.pk).get_absolute_url()
    assert address in read(since=BEGUN - DAY)[1]
    assert address not in read(until=BEGUN - DAY)[1]


def test_a_cause_that_may_not_be_read_is_no_link(read, world, book):
    span = book.system.spans.exclude(cause=None).order_by("starts_at").last()
    assert span.cause.get_absolute_url() in read()[1]
    assert span.cause.get_absolute_url() not in read(until=NOW - 10 * DAY)[1]


def test_somebody_who_reads_the_book_by_another_right_reads_all_of_it(read, world):
    Membership.objects.create(
        user=world.auditor, organisation=world.owner_organisation, role="viewer"
    )
    _, page = read(until=NOW - 10 * DAY)
    assert "Your access is of a period" not in page
