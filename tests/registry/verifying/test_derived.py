"""Every row that is shown in place of a record x every way to tamper with it: all are found."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.models import (
    AtmosphereSpan,
    Attachment,
    Fitting,
    InertingRun,
    PipeRun,
    ProtectionSpan,
    Record,
    System,
)
from registry.services import record
from registry.verifying import against_heads, read_heads
from registry.verifying.against import HeadsError
from scheduling.messages.chain_heads import heads_file
from scheduling.models import Occurrence, RuleRun, SystemWatch
from scheduling.services.confirming import bring_up_to_date
from tests.factories import NOW, make_record
from tests.registry.verifying.book import found


def test_an_untouched_book_holds(book):
    assert found() == []


def test_an_untouched_book_holds_years_later_too(book, monkeypatch):
    """Stored spans end where they could be seen on the day of the last record."""
    later = NOW + timedelta(days=5 * 366)
    monkeypatch.setattr("registry.verifying.spans.timezone.now", lambda: later)
    assert found() == []


PIPE = {
    "role": "riser", "material": "galvanized_steel", "schedule": "40", "nominal_size": "6",
    "outside_diameter_mm": 120.0, "wall_mm": 2.0, "wall_basis": "given", "length_m": 100.5,
    "joint": "welded", "installed_on": "2020-01-01", "installed_precision": "year",
    "is_withdrawn": True, "supersedes": None, "record": None,
}  # fmt: skip
RUN = {
    "target_n2_percent": 97.0, "feed_n2_percent": 95.0, "fill_pressure_gauge_pa": 1.0,
    "start_n2_percent": 80.0, "volume_m3": 0.1, "temperature_k": 300.0, "analyser": "Other",
    "analyser_calibrated_on": "2026-05-02", "status": "stopped", "plan": {"fills": []},
    "opened_at": NOW,
}  # fmt: skip
SYSTEM = {
    "tag": "NQ-8", "kind": "dry", "hazard": "light", "design_pressure_gauge_pa": 1.0,
    "rated_pressure_gauge_pa": 1.0, "service_pressure_gauge_pa": 1.0, "installed_on": "2006-03-01",
    "installed_precision": "year", "gas_supply": "generator", "supply_n2_percent": 98.0,
    "generator_flow_m3_s": 0.1, "consequence_class": 5, "volume_override_m3": 9.0,
    "volume_override_note": "measured",
}  # fmt: skip
FITTING = {
    "kind": "gauge", "label": "V2", "location": "Near end", "serial": "1",
    "calibrated_on": "2020-01-01", "fitted_on": "2020-01-01", "removed_on": "2026-01-01",
}  # fmt: skip
SPAN = {
    "state": "in_doubt", "state_since": NOW, "reason_code": "other", "reason": "Other.",
    "cause": None, "oxygen_low": 0.0, "oxygen_mid": 0.5, "oxygen_high": 0.9, "starts_at": NOW,
}  # fmt: skip
PROTECTION = {
    "state": "not_known", "state_since": NOW, "reason_code": "other", "reason": "Other.",
    "areas": "Bay 5", "is_planned": False, "cause": None, "starts_at": NOW,
}  # fmt: skip
ATTACHMENT = {"name": "Other.jpg", "sha256": "0" * 64}


@pytest.mark.parametrize("column", PIPE)
def test_a_pipe_run_changed_is_found(book, column):
    PipeRun.objects.filter(pk=book.pipe.pk).update(**{column: PIPE[column]})
    assert found(book.system)


def test_a_pipe_run_taken_away_or_made_up_is_found(book):
    PipeRun.objects.filter(pk=book.spare.pk).delete()
    assert len(found(book.system)) == 1
    book.pipe.pk, book.pipe.uuid = None, uuid4()
    book.pipe.supersedes = book.pipe.record = None
    book.pipe.save()
    assert "The register holds 1 pipe runs that no record entered." in found(book.system)


def test_a_withdrawn_pipe_run_that_counts_again_is_found(book):
    PipeRun.objects.filter(pk=book.spare.pk).update(is_withdrawn=False)
    assert found(book.system)


@pytest.mark.parametrize("column", RUN)
def test_an_inerting_run_changed_is_found(book, column):
    InertingRun.objects.filter(pk=book.run.pk).update(**{column: RUN[column]})
    assert found(book.system)


def test_another_person_in_the_place_of_who_opened_a_run_is_found(book, world):
    InertingRun.objects.filter(pk=book.run.pk).update(opened_by=world.viewer)
    assert found(book.system)


def test_one_number_of_a_plan_changed_is_found(book):
    run = InertingRun.objects.get(pk=book.run.pk)
    run.plan["fills"][0]["n2_percent"] += 0.1
    run.save()
    assert [what for what in found(book.system) if "The plan of" in what]


def test_an_inerting_run_made_up_is_found(book):
    run = InertingRun.objects.get(pk=book.run.pk)
    run.pk, run.uuid, run.client_key = None, book.done.uuid, None
    run.save()
    assert len(found(book.system)) == 1


@pytest.mark.parametrize("column", SYSTEM)
def test_a_fact_of_a_system_changed_is_found(book, column):
    System.objects.filter(pk=book.system.pk).update(**{column: SYSTEM[column]})
    assert found(book.system)


@pytest.mark.parametrize("column", FITTING)
def test_a_fitting_changed_is_found(book, column):
    Fitting.objects.filter(pk=book.fitting.pk).update(**{column: FITTING[column]})
    assert len(found(book.system)) == 2  # one that nobody entered, and one that is not there


def test_a_fitting_taken_away_or_made_up_is_found(book):
    Fitting.objects.create(system=book.system, kind="vent")
    assert len(found(book.system)) == 1
    Fitting.objects.filter(system=book.system).delete()
    assert len(found(book.system)) == 1


@pytest.mark.parametrize("column", SPAN)
def test_a_span_changed_is_found(book, column):
    span = book.system.spans.exclude(cause=None).order_by("starts_at").first()
    AtmosphereSpan.objects.filter(pk=span.pk).update(**{column: SPAN[column]})
    assert found(book.system)


@pytest.mark.parametrize("place", ["first", "last"])
def test_a_span_taken_away_is_found(book, place):
    getattr(book.system.spans.order_by("starts_at"), place)().delete()
    assert len(found(book.system)) == 1


def test_all_spans_taken_away_or_one_made_up_is_found(book):
    last = book.system.spans.order_by("starts_at").last()
    last.pk, last.starts_at = None, last.starts_at + timedelta(days=1)
    last.save()
    assert len(found(book.system)) == 1
    book.system.spans.all().delete()
    assert len(found(book.system)) == 1


@pytest.mark.parametrize("column", PROTECTION)
def test_a_span_of_protection_changed_is_found(book, column):
    span = book.system.protection_spans.get(areas="Bay 4")
    ProtectionSpan.objects.filter(pk=span.pk).update(**{column: PROTECTION[column]})
    assert len(found(book.system)) == 1


def test_an_outage_whose_span_was_taken_away_is_found(book):
    book.system.protection_spans.get(areas="Bay 4").delete()
    (told,) = found(book.system)
    assert "and the records give “" in told and "The protection kept from" in told


@pytest.mark.parametrize("place", ["first", "last"])
def test_a_span_of_protection_at_an_end_taken_away_is_found(book, place):
    getattr(book.system.protection_spans.order_by("starts_at"), place)().delete()
    assert len(found(book.system)) == 1


def test_all_spans_of_protection_taken_away_or_one_made_up_is_found(book):
    last = book.system.protection_spans.order_by("starts_at").last()
    last.pk, last.starts_at = None, last.starts_at + timedelta(days=1)
    last.save()
    (told,) = found(book.system)
    assert told.endswith("is not what the records give.")
    book.system.protection_spans.all().delete()
    (told,) = found(book.system)
    assert told.endswith("is not kept.")


def test_an_end_that_names_an_outage_corrected_since_is_no_difference(book, world):
    """Whoever reads the rows as they are stored finds the later number too."""
    began = book.system.records.get(kind="event.impairment_start")
    record(
        system=book.system, kind=began.kind, occurred_at=began.occurred_at, supersedes=began,
        recorded_by=world.owner, details=began.details | {"areas": "Bays 4 and 5"}, now=NOW,
    )  # fmt: skip
    assert found(book.system) == []


def test_what_waits_to_be_derived_again_is_no_tampering_and_is_said(book, capsys):
    """As after an update of the program, or of the limits, until the worker comes to it."""
    book.system.protection_spans.all().delete()
    assert found(book.system)
    SystemWatch.objects.filter(system=book.system).update(is_to_derive=True)
    call_command("verify_records")
    assert "1 of them wait for the worker to derive" in capsys.readouterr().out
    bring_up_to_date(system=book.system, now=NOW)
    call_command("verify_records")
    assert "wait" not in capsys.readouterr().out


@pytest.mark.parametrize("column", ATTACHMENT)
def test_an_attachment_changed_is_found(book, column):
    first = book.done.attachments.order_by("pk").first()
    Attachment.objects.filter(pk=first.pk).update(**{column: ATTACHMENT[column]})
    assert found(book.system)


def test_a_file_changed_with_its_digest_is_found(book):
    """The bytes, the row's digest and its size: what the record says is left."""
    import hashlib

    first = book.done.attachments.order_by("pk").first()
    content = b"\xff\xd8\xff\xe0 another photo"
    with default_storage.open(first.stored_as, "wb") as file:
        file.write(content)
    digest = hashlib.sha256(content).hexdigest()
    Attachment.objects.filter(pk=first.pk).update(sha256=digest, size=len(content))
    assert len(found(book.system)) == 1


def test_a_file_changed_alone_or_gone_is_found(book):
    one, two = book.done.attachments.order_by("pk")
    with default_storage.open(one.stored_as, "ab") as file:
        file.write(b"more")
    default_storage.delete(two.stored_as)
    assert [what.split("”")[0] for what in found(book.system)] == ["“Gauge 1.jpg", "“Gauge 2.png"]


def test_an_attachment_taken_away_or_moved_is_found(book):
    one, two = book.done.attachments.order_by("pk")
    one.delete()
    assert len(found(book.system)) == 1
    Attachment.objects.filter(pk=two.pk).update(record=book.system.records.first())
    assert found(book.system)


def test_the_number_of_queries_does_not_grow_with_the_systems(
    book, world, django_assert_num_queries
):
    from tests.factories import make_pipe_run, make_system

    with CaptureQueriesContext(connection) as asked:
        found(book.system)
    for _ in range(5):
        make_pipe_run(make_system(world.site, world.owner), world.owner)
    with django_assert_num_queries(len(asked)):
        assert found() == []


def test_the_command_says_that_the_book_holds(book, capsys):
    call_command("verify_records")
    records = Record.objects.count()
    assert capsys.readouterr().out == f"{records} records of 1 systems hold.\n"


def test_the_command_fails_with_the_first_that_differs(book, capsys):
    PipeRun.objects.filter(pk=book.pipe.pk).update(length_m=7.0)
    with pytest.raises(CommandError) as error:
        call_command("verify_records")
    assert error.value.returncode == 1
    assert str(error.value).startswith(
        "The book does not hold. First: NQ-7, North Quay: The pipe run of record 3 has “7.0” for "
        "length m, and the record says “100.0”."
    )


def test_the_command_checks_one_owner_alone(book, world, capsys):
    PipeRun.objects.filter(pk=book.pipe.pk).update(length_m=7.0)
    with pytest.raises(CommandError, match="No owner “Dunlore Cold Storage” has a system"):
        call_command("verify_records", owner=world.other_owner.name)
    with pytest.raises(CommandError, match="does not hold"):
        call_command("verify_records", owner=world.owner_organisation.name)


@pytest.fixture
def heads(book, world, tmp_path):
    """As the weekly digest carries them."""
    path = tmp_path / "heads.csv"
    path.write_text(heads_file(world.owner, NOW)[1])
    return path


def test_a_book_that_went_on_is_a_continuation_of_older_heads(book, world, heads):
    make_record(book.system, "event.observation", NOW, world.owner, text="Later")
    call_command("verify_records", against=heads)


def test_a_ledger_cut_at_its_end_with_its_head_moved_back_is_found_by_older_heads(book, heads):
    """No chain shows this; a list of heads that somebody kept does."""
    last = Record.objects.get(pk=book.done.pk)
    done = book.system.occurrences.get(record=last)  # else the schedule tells
    open_again = {"record": None, "status": Occurrence.Status.OPEN, "settled_at": None}
    book.system.occurrences.open().filter(item=done.item).delete()
    book.system.occurrences.filter(pk=done.pk).update(**open_again)
    last.attachments.all().delete()
    RuleRun.objects.filter(record=last).delete()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM registry_record WHERE id = %s", [last.pk])
        cursor.execute(
            "UPDATE registry_system SET head_hash = %s, next_sequence = %s WHERE id = %s",
            [last.previous_hash, last.sequence, book.system.pk],
        )
    assert found(book.system) == []
    with pytest.raises(CommandError, match=f"record {last.sequence} was there when the list"):
        call_command("verify_records", against=heads)


def test_a_record_rewritten_with_all_hashes_is_found_by_older_heads(book, heads):
    Record.objects.filter(pk=book.done.pk).update(hash="1" * 64)
    (told,) = against_heads(read_heads(heads.read_text().splitlines()))
    assert told.startswith(f"NQ-7: record {book.done.sequence} or one before it is another than")


def test_a_system_that_was_removed_is_found_by_older_heads(book):
    gone = "12345678-1234-5678-1234-567812345678"
    heads = read_heads([f"{gone},3,{'0' * 64}"])
    assert list(against_heads(heads)) == [f"System {gone} is in the list and not in the book."]


@pytest.mark.parametrize("text", ["", "a,b,c", "12345678-1234-5678-1234-567812345678,3"])
def test_what_is_no_list_of_heads_is_refused(text):
    with pytest.raises(HeadsError):
        read_heads(text.splitlines())
