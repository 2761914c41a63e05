from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from registry import services
from registry.models import Record, System
from reports.ledger.page import check_chain
from tests.factories import NOW, make_record, make_site, make_system
from tests.queries import queries_of

DAY = timedelta(days=1)
AUDIT = reverse("reports:audit")


def url_of(system):
    return reverse("reports:ledger", args=[system.pk])


def rows_of(response):
    return [(row.record.system.tag, row.record.sequence) for row in response.context["rows"]]


def standing(response):
    return {row.record.sequence: row.standing for row in response.context["rows"]}


@pytest.fixture
def book(world, owner, technician):
    """A reading recorded on the 1st of May, corrected on the 10th; a fire withdrawn on the 20th."""
    system = make_system(world.site, owner, now=datetime(2026, 4, 1, tzinfo=UTC), tag="NQ-1")
    at = datetime(2026, 5, 1, 12, tzinfo=UTC)
    wrong = make_record(system, "reading.gas", at, technician, now=at, n2_percent=89.4)
    services.record(
        system=system, kind="reading.gas", occurred_at=at, details={"n2_percent": 98.4},
        recorded_by=owner, supersedes=wrong, now=datetime(2026, 5, 10, 12, tzinfo=UTC),
    )  # fmt: skip
    fire = make_record(system, "event.fire", at + 2 * DAY, technician, now=at + 3 * DAY)
    services.withdraw(
        record=fire, reason="Next door", recorded_by=owner, now=datetime(2026, 5, 20, tzinfo=UTC)
    )
    return system


def test_the_ledger_shows_every_record_and_what_became_of_it(client, book, auditor):
    client.force_login(auditor)
    response = client.get(url_of(book))
    assert standing(response) == {
        1: "counts", 2: "corrected by 3", 3: "counts", 4: "withdrawn by 5", 5: "withdraws another"
    }  # fmt: skip
    page = response.content.decode()
    assert all(record.hash[:10] in page for record in book.records.all())


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"first": "2026-06-02", "last": "2026-06-01"}, "later than “to”"),
        ({"as_of": "2001-01-01"}, "The book held no such record"),
        ({"kind": "event.trip"}, "No record matches"),
    ],
)
def test_an_empty_ledger_says_why(client, book, auditor, query, words):
    client.force_login(auditor)
    assert words in client.get(url_of(book), query).content.decode()


def test_a_date_shows_the_book_as_it_was_known_then(client, book, auditor):
    client.force_login(auditor)
    for day, expected in (
        ("2026-04-30", {1: "counts"}),
        ("2026-05-09", {1: "counts", 2: "counts", 4: "counts"}),
        ("2026-05-10", {1: "counts", 2: "corrected by 3", 3: "counts", 4: "counts"}),
    ):
        assert standing(client.get(url_of(book), {"as_of": day})) == expected


def test_the_atmosphere_is_shown_as_the_book_knew_it(client, book, auditor):
    """Until its correction on the 10th the reading said 89.4 %; the fire was not yet withdrawn."""
    client.force_login(auditor)
    before, after = (
        client.get(url_of(book), {"as_of": day}).context["then"].span
        for day in ("2026-05-02", "2026-05-21")
    )
    assert before.oxygen_mid == pytest.approx(0.106)
    assert after.oxygen_mid == pytest.approx(0.016)
    page = client.get(url_of(book), {"as_of": "2026-05-02"}).content.decode()
    assert ">then</text>" in page
    assert "today</text>" not in page
    assert client.get(url_of(book)).context["then"] is None


def test_only_what_counts_agrees_with_the_books_own_reading_of_that_day(client, book, auditor):
    client.force_login(auditor)
    for day in (date(2026, 5, 9), date(2026, 5, 10), date(2026, 5, 21)):
        shown = rows_of(client.get(url_of(book), {"as_of": str(day), "show": "counting"}))
        end = datetime(day.year, day.month, day.day, 22, 59, 59, 999999, tzinfo=UTC)  # BST
        known = Record.objects.for_system(book).as_of(end).order_by("sequence")
        assert shown == [("NQ-1", record.sequence) for record in known]
    now = rows_of(client.get(url_of(book), {"show": "counting"}))
    assert now == [("NQ-1", 1), ("NQ-1", 3)]


def test_a_day_ends_by_the_clock_of_each_site(client, world, owner):
    """The same instant is the 1st of June in Tokyo and still the 31st of May in Chicago."""
    at = datetime(2026, 5, 31, 20, tzinfo=UTC)
    for zone, tag in (("Asia/Tokyo", "T-1"), ("America/Chicago", "C-1")):
        site = make_site(world.owner_organisation, name=zone, time_zone=zone)
        system = make_system(site, owner, tag=tag, now=datetime(2026, 5, 1, tzinfo=UTC))
        make_record(system, "event.fire", at, owner, now=at)
    client.force_login(owner)
    fires = {"kind": "event.fire"}
    known = client.get(AUDIT, fires | {"as_of": "2026-05-31"})
    assert rows_of(known) == [("C-1", 2)]
    assert rows_of(client.get(AUDIT, fires | {"first": "2026-06-01"})) == [("T-1", 2)]
    assert rows_of(client.get(AUDIT, fires | {"last": "2026-05-31"})) == [("C-1", 2)]


def test_the_chain_is_checked_and_the_result_said_plainly(client, book, auditor):
    client.force_login(auditor)
    page = client.get(url_of(book)).content.decode()
    assert "The chain holds." in page
    assert System.objects.get(pk=book.pk).head_hash in page


def test_an_altered_record_is_named(client, book, auditor):
    Record.objects.filter(system=book, sequence=2).update(details={"n2_percent": 98.4})
    client.force_login(auditor)
    page = client.get(url_of(book)).content.decode()
    assert "The chain does not hold." in page
    assert "Record 2 was altered after it was written" in page


def test_records_missing_at_the_end_are_noticed(book, owner):
    make_record(book, "event.observation", NOW, owner, text="Rust at the drain").delete()
    (problem,) = check_chain(System.objects.get(pk=book.pk)).problems
    assert "some are missing" in problem.what


def test_the_audit_ledger_holds_all_that_the_person_may_see(client, world, book, owner, stranger):
    theirs = make_system(world.other_site, stranger, tag="IS-1")
    client.force_login(world.auditor)
    shown = {tag for tag, _ in rows_of(client.get(AUDIT))}
    assert shown == {"NQ-1"}
    client.force_login(stranger)
    assert {tag for tag, _ in rows_of(client.get(AUDIT))} == {theirs.tag}


def test_the_audit_ledger_narrows_by_system_kind_and_person(client, world, book, auditor):
    other = make_system(make_site(world.owner_organisation, name="South Mole"), tag="SM-1")
    client.force_login(auditor)

    def found(**query):
        return sorted(rows_of(client.get(AUDIT, query)))

    assert found(tag="sm-") == found(site=other.site_id) == [("SM-1", 1)]
    assert found(site=book.site_id, kind="event.fire") == [("NQ-1", 4)]
    assert found(person=world.technician.pk) == [("NQ-1", 2), ("NQ-1", 4)]


def test_filters_offer_nothing_of_other_owners(client, world, book, stranger):
    make_system(world.other_site, stranger, tag="IS-1")
    client.force_login(world.auditor)
    page = client.get(AUDIT).content.decode()
    assert "IS-1" not in page
    assert "Inland Store" not in page
    assert "Sol Stranger" not in page


def test_a_date_that_cannot_be_read_shows_no_rows_rather_than_wrong_ones(client, book, auditor):
    client.force_login(auditor)
    response = client.get(AUDIT, {"as_of": "soon"})
    assert rows_of(response) == []
    assert "Enter a valid date" in response.content.decode()


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_days_at_the_ends_of_time_are_answered(client, book, auditor, day):
    client.force_login(auditor)
    held = rows_of(client.get(url_of(book), {"as_of": day}))
    assert len(held) == (5 if day.startswith("9") else 0)
    assert client.get(AUDIT, {"first": day, "last": day, "show": "counting"}).status_code == 200


@pytest.mark.parametrize("name", ["ledger", "ledger-csv"])
def test_a_stranger_gets_404(client, book, stranger, name):
    client.force_login(stranger)
    assert client.get(reverse(f"reports:{name}", args=[book.pk])).status_code == 404


def test_the_audit_ledger_costs_as_many_queries_for_many_records(client, book, owner):
    client.force_login(owner)
    few = queries_of(client, AUDIT)
    for hour in range(20):
        make_record(book, "reading.gas", NOW - timedelta(hours=hour), owner, n2_percent=98.0)
    assert queries_of(client, AUDIT) == few
