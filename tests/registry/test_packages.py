"""Packages out of the database, checked by verify.py as an auditor would."""

import csv
import io
import json
from datetime import UTC, datetime

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.assess.case_files import scored
from registry.assess.written_case import judged, read_case
from registry.kinds import KINDS
from registry.models import OwnerLog, Record
from registry.proof import verify
from registry.proof.notes import Verifier
from registry.services.assessments import assess_system
from registry.services.ledger import withdraw
from registry.services.log import make_checkpoint, number_all, number_records
from registry.services.packages import Scope, Source
from registry.services.taking_back import take_file_back
from tests.factories import NOW, make_pipe_run, make_record, make_system
from tests.kept import Kept
from tests.registry.proof.packages import files_of
from tests.registry.verifying.book import make_book, write_files

KEPT = Kept(make_book)


@pytest.fixture
def book(world):
    book = KEPT(world)
    write_files(book)
    make_record(
        make_system(world.other_site, world.stranger, tag="IN-1"),
        "event.observation", NOW, world.stranger, text="Of another owner",
    )  # fmt: skip
    return book


@pytest.fixture
def write(book, world, tmp_path):
    """A package by the command, and its path."""

    def written(**options):
        path = tmp_path / f"{len(list(tmp_path.iterdir()))}.zip"
        call_command(
            "write_package", path, owner=world.owner_organisation.name, by=world.owner.email,
            **options,
        )  # fmt: skip
        return path

    return written


def key() -> str:
    log = OwnerLog.objects.get(owner__name="Averhythe Quays")
    return Verifier.from_vkey(log.keys.get().vkey).fingerprint


def checked(path, capsys, *arguments) -> tuple[int, str]:
    capsys.readouterr()
    code = verify.main([str(path), "--key", key(), *arguments])
    return code, capsys.readouterr().out


def rows_of(path, name="records.csv") -> list[dict[str, str]]:
    text = files_of(path.read_bytes())[name].decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_whole_book_of_an_owner_holds_with_its_files(book, write, capsys):
    path = write()
    code, said = checked(path, capsys)
    assert code == 0, said
    assert "22 records of 1 systems are as they were written" in said
    assert "2 attached files are those that the records name" in said
    assert "Of another owner" not in files_of(path.read_bytes())["records.jsonl"].decode()


def test_anybody_can_judge_the_score_again_from_the_package(book, write, capsys):
    row = assess_system(book.system, NOW)
    path = write()
    assert checked(path, capsys)[0] == 0
    written = json.loads(files_of(path.read_bytes())[f"cases/{book.system.uuid}.json"])
    found = judged(read_case(written, today=NOW.date()), more=scored)
    assert found["score"] == pytest.approx(row.score, abs=1e-9)
    assert found["reasons"] == row.reasons
    assert found["protection"]["state"] == "in_service"
    assert "Hand meter 3" not in json.dumps(written)


def test_a_part_of_a_ledger_comes_without_what_tells_of_all_of_it(book, write):
    path = write(kind=["inerting.read"])
    assert not [name for name in files_of(path.read_bytes()) if name.startswith("cases/")]


def test_the_table_says_who_what_and_when(book, write, world):
    (row,) = [row for row in rows_of(write()) if row["kind"] == "event.observation"]
    assert row["site"] == "North Quay"
    assert row["kind_words"] == KINDS["event.observation"].label
    assert row["happened"] == "2026-06-01T12:00:00+01:00"
    assert row["happened_utc"] == "2026-06-01T11:00:00Z"
    assert (row["recorded_by"], row["recorded_by_name"]) == (
        str(world.owner.uuid), "Olive Manager",
    )  # fmt: skip


def test_corrected_records_point_at_each_other(book, write):
    rows = {row["number"]: row for row in rows_of(write())}
    later = next(row for row in rows.values() if row["supersedes"])
    assert rows[later["supersedes"]]["superseded_by"] == later["number"]


def test_people_are_listed_by_id_and_name(book, write, world):
    people = {row["id"]: row["name"] for row in rows_of(write(), "people.csv")}
    assert people == {
        str(world.owner.uuid): "Olive Manager",
        str(world.technician.uuid): "Tam Technician",
    }


def test_one_kind_of_a_period_comes_with_the_hashes_of_the_rest(book, write, capsys):
    path = write(kind=["inerting.read"], since=datetime(2026, 6, 1, tzinfo=UTC))
    code, said = checked(path, capsys)
    assert code == 0, said
    assert "2 records of 1 systems" in said
    assert "20 records between are not in the package" in said
    assert {row["kind"] for row in rows_of(path)} == {"inerting.read"}


def test_a_day_that_is_over_is_not_in_a_package_from_the_next(book, write):
    assert rows_of(write(until=datetime(2026, 6, 1, tzinfo=UTC))) == []
    assert len(rows_of(write(since=datetime(2026, 6, 1, tzinfo=UTC)))) == 22


def test_one_system_of_many_comes_with_proofs_and_shows_older_checkpoints(
    book, write, world, capsys, tmp_path
):
    """Smaller than the whole log as soon as others hold most of it."""
    number_records(world.owner_organisation, now=NOW)
    old = tmp_path / "old-checkpoint"
    old.write_text(make_checkpoint(world.owner_organisation, now=NOW).note, encoding="utf-8")
    small = make_system(world.site, world.owner, tag="NQ-8")
    make_pipe_run(small, world.owner)
    Record.objects.bulk_create(
        Record(
            system=book.system,
            sequence=number,
            kind="event.observation",
            occurred_at=NOW,
            recorded_at=NOW,
            recorded_by=world.owner,
            hash=f"{number:064x}",
        )  # fmt: skip
        for number in range(23, 301)
    )
    type(small).objects.filter(pk=book.system.pk).update(next_sequence=301)
    path = write(system=["NQ-8"])
    assert "log/proofs.jsonl" in files_of(path.read_bytes())
    code, said = checked(path, capsys, "--checkpoint", str(old))
    assert code == 0, said
    assert "2 records of 1 systems" in said
    assert "its first 22 records are unchanged" in said


def test_a_record_that_was_tampered_with_is_found_in_the_package(book, write, capsys):
    Record.objects.filter(pk=book.done.pk).update(note="made up")
    code, said = checked(write(), capsys)
    assert code == 1
    assert f"Record {book.done.sequence} of system {book.system.uuid} was altered" in said


def test_a_file_that_is_gone_is_left_out_and_counted(book, write, capsys):
    default_storage.delete(book.done.attachments.first().stored_as)
    code, said = checked(write(), capsys)
    assert code == 0, said
    assert "1 files that records name are not in the package" in said


def test_a_file_that_was_taken_back_is_left_out_and_not_missed(book, write, world, capsys):
    one, two = book.done.attachments.order_by("pk")
    take_file_back(file=one, reason="Of another riser", recorded_by=world.owner, now=NOW)
    path = write()
    code, said = checked(path, capsys)
    assert code == 0, said
    assert "1 files were taken back, as records say" in said
    assert "files that records name are not in the package" not in said
    held = [name for name in files_of(path.read_bytes()) if name.startswith("attachments/")]
    assert [name.endswith(two.name) for name in held] == [True]
    withdraw(record=book.done, reason="Wrong system", recorded_by=world.owner, now=NOW)
    code, said = checked(write(), capsys)
    assert (code, "2 files were taken back" in said) == (0, True), said


def test_the_manifest_says_what_was_asked_for(book, write):
    manifest = json.loads(files_of(write(site=["North Quay"]).read_bytes())["manifest.json"])
    assert manifest["scope"]["sites"] == ["North Quay"]
    assert manifest["is_whole"] is False
    assert manifest["made_by"] == "Olive Manager"


def test_records_written_later_are_in_the_next_package(book, write, world, capsys):
    write()
    make_record(book.system, "event.observation", NOW, world.owner, text="Later")
    code, said = checked(write(), capsys)
    assert (code, "23 records of 1 systems" in said) == (0, True)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"owner": "Nobody"}, "has no owner “Nobody”"),
        ({"by": "nobody@averhythe.example"}, "has no person “nobody@averhythe.example”"),
    ],
)
def test_what_is_not_in_the_book_is_said(book, world, tmp_path, wrong, said):
    right = {"owner": world.owner_organisation.name, "by": world.owner.email}
    with pytest.raises(CommandError, match=said):
        call_command("write_package", tmp_path / "p.zip", **(right | wrong))


def test_a_file_that_is_there_is_not_written_over(book, write):
    path = write()
    with pytest.raises(CommandError, match="is there already"):
        call_command(
            "write_package", path, owner="Averhythe Quays",
            by=Record.objects.first().recorded_by.email,
        )  # fmt: skip


def test_records_that_came_after_the_checkpoint_are_in_the_next_package(book, world):
    number_all(world.owner_organisation, now=NOW)
    log = OwnerLog.objects.get(owner=world.owner_organisation)
    held = Record.objects.filter(system=book.system).count()
    make_record(book.system, "event.observation", NOW, world.owner, text="Later")
    number_all(world.owner_organisation, now=NOW)
    source = Source(Scope(world.owner_organisation), log, log.size, NOW)
    (ledger,) = [one for one in source.ledgers() if one.tag == book.system.tag]
    assert (ledger.records, ledger.head) == (
        held, Record.objects.get(system=book.system, sequence=held).hash,
    )  # fmt: skip
    rows = [one for one in source.rows() if one.system == str(book.system.uuid)]
    assert [one.sequence for one in rows] == list(range(1, held + 1))


def test_rows_are_read_by_joins_alone(book, world):
    """A subquery is planned by statistics, which a book that was just filled does not have."""
    number_all(world.owner_organisation, now=NOW)
    log = OwnerLog.objects.get(owner=world.owner_organisation)
    scope = Scope(world.owner_organisation, sites=("North Quay",), systems=("NQ-7",))
    source = Source(scope, log, log.size, NOW)
    with CaptureQueriesContext(connection) as asked:
        assert list(source.ledgers()) and list(source.rows())
    of_records = [one["sql"] for one in asked if 'FROM "registry_record"' in one["sql"]]
    assert len(of_records) >= 2
    assert all(sql.count("SELECT") == 1 for sql in of_records)
