"""The nightly check: what it keeps, whom it tells, and what the pages and papers say of it."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.db import connection
from django.urls import reverse
from pypdf import PdfReader

from registry.models import Membership, OwnerVerdict, Verdict
from scheduling.models import Message
from scheduling.verifying import verify_all
from tests.factories import NOW
from tests.jobs import run_job
from tests.registry.verifying.conftest import book  # noqa: F401

LATER = NOW + timedelta(hours=9)


def sql(statement: str, *values) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        assert cursor.rowcount, "nothing was tampered with"


@pytest.fixture
def broken(book):  # noqa: F811
    sql("UPDATE registry_piperun SET wall_mm = wall_mm + 1 WHERE id = %s", book.pipe.pk)
    return book


@pytest.fixture
def signed_in(client, world):
    client.force_login(world.owner)
    return client


def test_a_book_that_holds_is_said_to_and_tells_nobody(book):  # noqa: F811
    (verdict,) = verify_all(NOW)
    assert verdict.holds and verdict.failing_since is None
    kept = Verdict.objects.get(system=book.system)
    assert kept.holds and kept.records == book.system.next_sequence - 1 and kept.since == 0
    assert not Message.objects.filter(kind=Message.Kind.VERDICT).exists()


def test_a_difference_reaches_the_owners_managers_once(broken, world):
    verify_all(NOW)
    verify_all(LATER)
    told = Message.objects.filter(kind=Message.Kind.VERDICT)
    managers = Membership.objects.filter(organisation=world.site.owner, role="manager")
    assert {row.person_id for row in told} == set(managers.values_list("user", flat=True))
    assert told.count() == managers.count() and "NQ-7" in told[0].body
    assert OwnerVerdict.objects.get().failing_since == NOW


def test_what_differs_anew_is_told_again_and_so_is_what_comes_back(broken, world):
    verify_all(NOW)
    sql("UPDATE registry_piperun SET wall_mm = wall_mm - 1 WHERE id = %s", broken.pipe.pk)
    verify_all(NOW + timedelta(hours=1))
    assert OwnerVerdict.objects.get().holds
    sql("UPDATE registry_piperun SET wall_mm = wall_mm + 1 WHERE id = %s", broken.pipe.pk)
    verify_all(LATER)
    told = Message.objects.filter(kind=Message.Kind.VERDICT, person=world.owner)
    assert told.count() == 2


def test_the_nightly_job_says_what_it_found(broken):
    job = run_job("scheduling.verify_records")
    assert "books that do not hold: 1" in job.outcome and job.done == 1


@pytest.mark.parametrize("page", ["portfolio", "system", "record", "jobs"])
def test_the_verdict_stands_on_every_page(signed_in, broken, page):
    record = broken.system.records.first()
    address = {
        "portfolio": reverse("reports:portfolio"),
        "system": broken.system.get_absolute_url(),
        "record": record.get_absolute_url(),
        "jobs": reverse("scheduling:jobs"),
    }[page]
    before = signed_in.get(address).content.decode()
    assert 'role="alert"' not in before
    verify_all(NOW)
    after = signed_in.get(address).content.decode()
    assert 'role="alert"' in after and "pipe run" in after


def test_pages_of_a_book_that_holds_say_when_it_was_checked(signed_in, book):  # noqa: F811
    verify_all(NOW)
    for address in (reverse("reports:portfolio"), book.system.get_absolute_url()):
        assert "agree" in signed_in.get(address).content.decode()


def test_the_ledger_is_held_against_the_book_as_it_is_opened(signed_in, broken):
    page = signed_in.get(reverse("reports:ledger", args=[broken.system.pk])).content.decode()
    assert "does not agree with this ledger" in page


def test_no_certificate_of_a_broken_ledger(signed_in, broken):
    """Also before the nightly check has found it."""
    answer = signed_in.get(reverse("reports:certificate", args=[broken.run.pk]))
    assert answer.status_code == 409 and "refused" in answer.content.decode()


def test_each_row_of_an_export_of_a_broken_ledger_is_marked(signed_in, broken):
    answer = signed_in.get(reverse("reports:ledger-csv", args=[broken.system.pk]))
    assert "DOES-NOT-HOLD" in answer["Content-Disposition"]
    lines = b"".join(answer.streaming_content).decode().count("DOES NOT HOLD")
    assert lines == broken.system.records.count()


def test_the_export_of_all_marks_an_altered_record_before_any_check(signed_in, book):  # noqa: F811
    first = book.system.records.order_by("sequence").first()
    sql("UPDATE registry_record SET note = 'Another' WHERE id = %s", first.pk)
    answer = signed_in.get(reverse("reports:audit-csv"))
    assert b"".join(answer.streaming_content).decode().count("this record was altered") == 1


def test_every_page_of_the_risk_report_is_marked(signed_in, broken):
    answer = signed_in.get(reverse("reports:risk-pdf", args=[broken.system.pk]))
    pages = PdfReader(BytesIO(answer.content)).pages
    assert len(pages) > 1
    assert all("does not hold" in page.extract_text().lower() for page in pages)
