"""What a package holds beside records: the schedule against them, decisions, papers."""

import csv
import io
import json
import re
from datetime import timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from registry.models import OwnerLog, System
from registry.services.owner_ledger import begin_ledger, note_everywhere
from scheduling import recurring
from tests.factories import NOW, make_system
from tests.registry.proof.packages import files_of, resigned
from tests.registry.verifying.book import write_files
from tests.reports.proof.conftest import KEPT
from tests.scheduling.recurring.test_replanning import asking_row
from tests.scheduling.recurring_world import open_of

LATER = NOW + timedelta(days=40)


def rows_of(package: bytes, name: str) -> list[dict[str, str]]:
    text = files_of(package)[name].decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def put_aside(world, *, now=NOW, is_used=False):
    cells = asking_row(world, "1 week") | {"is_used": is_used}
    row = recurring.save_item(
        owner=world.owner_organisation, row="gauges-wet", cells=cells, changed_by=world.owner,
        now=now,
    )  # fmt: skip
    for system in world.site.systems.all():
        recurring.plan_recurring(system=system, now=now)
    return row


def test_what_was_demanded_stands_beside_what_was_recorded(book, packed, check):
    package = packed()
    code, said = check(package)
    assert code == 0, said
    rows = rows_of(package, "demanded.csv")
    (done,) = [row for row in rows if row["outcome"] == "done"]
    assert done["item"] == "gauges" and done["record_hash"] == book.done.hash
    assert done["recorded_by_name"] == "Tam Technician" and done["recorded_by"]
    late = [row for row in rows if row["outcome"] == "late"]
    assert late and all(
        "late by" in row["why"] and "recurs" in row["why"] and not row["record_hash"]
        for row in late
    )
    assert f"{len(late)} late" in said
    assert {row["outcome"] for row in rows} <= {"done", "late", "open", "not due yet"}


def test_work_that_was_set_aside_names_the_decision_in_the_owners_ledger(
    book, packed, check, world
):
    begun = open_of(book.system, "gauges")
    put_aside(world, now=NOW + timedelta(hours=1))
    package = packed()
    code, said = check(package)
    assert code == 0, said
    (row,) = [
        row for row in rows_of(package, "demanded.csv")
        if "not asked" in row["outcome"] and row["due_on"] == begun.due_on.isoformat()
    ]  # fmt: skip
    assert row["why"] == "Set aside for the whole owner by Olive Manager on 2026-06-01."
    assert row["decided_by_name"] == "Olive Manager" and row["decision_hash"] in said_by_owner(
        package
    )
    left = [row for row in rows_of(package, "not-demanded.csv") if row["outcome"] == "set aside"]
    assert [one["decision_hash"] for one in left] == [row["decision_hash"]]


def said_by_owner(package: bytes) -> dict[str, dict]:
    lines = files_of(package)["owner.jsonl"].decode().splitlines()
    return {row["hash"]: row.get("body") for row in map(json.loads, lines)}


def test_before_the_owners_ledger_a_gap_is_not_on_record(world, packed, check):
    book = KEPT(world)
    write_files(book)
    put_aside(world)
    begin_ledger(world.owner_organisation, now=NOW + timedelta(days=1))
    dropped = [row for row in rows_of(packed(), "demanded.csv") if "not asked" in row["outcome"]]
    assert dropped and all(row["why"].startswith("Not on record") for row in dropped)


def test_a_site_without_an_edition_says_that_nothing_was_adopted(book, packed, world):
    rows = rows_of(packed(), "not-demanded.csv")
    assert rows and {row["outcome"] for row in rows} == {"not adopted"}
    assert all(row["site"] == "North Quay" and row["why"] for row in rows)


def test_a_period_holds_what_was_due_in_it(book, packed):
    whole = rows_of(packed(), "demanded.csv")
    days = sorted(row["due_on"] for row in whole)
    until = NOW + timedelta(days=30)
    part = rows_of(packed(until=until), "demanded.csv")
    assert [row["due_on"] for row in part] and len(part) < len(whole)
    assert max(row["due_on"] for row in part) < f"{until:%Y-%m-%d}" <= days[-1]


def _another_hash(files):
    rows = files["demanded.csv"].decode()
    hash = next(row["record_hash"] for row in rows_of_text(rows) if row["record_hash"])
    return files | {"demanded.csv": rows.replace(hash, "0" * 64).encode()}


def rows_of_text(text):
    return csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline=""))


def _another_day(files):
    lines = files["demanded.csv"].decode().splitlines(keepends=True)
    at = next(at for at, line in enumerate(lines) if ",done," in line)
    lines[at] = re.sub(r"\d{4}-\d\d-\d\d", "2025-01-01", lines[at], count=1)
    return files | {"demanded.csv": "".join(lines).encode()}


def _another_name(files):
    return files | {"names.csv": files["names.csv"].replace(b"Olive Manager", b"Olive Other")}


def _owner_cut(files):
    lines = files["owner.jsonl"].splitlines(keepends=True)
    return files | {"owner.jsonl": b"".join(lines[:-1])}


def _owner_line_gone(files):
    lines = files["owner.jsonl"].splitlines(keepends=True)
    return files | {"owner.jsonl": b"".join(lines[:3] + lines[4:])}


def _owner_changed(files):
    return files | {"owner.jsonl": files["owner.jsonl"].replace(b"North Quay", b"North Quai", 1)}


def _owner_gone(files):
    return {name: content for name, content in files.items() if name != "owner.jsonl"}


def _done_without_record(files):
    text = files["demanded.csv"].decode()
    row = next(row for row in rows_of_text(text) if row["record_hash"])
    return files | {"demanded.csv": text.replace(row["record_hash"], "").encode()}


@pytest.mark.parametrize(
    ("tampering", "words"),
    [
        (_another_hash, "demanded.csv names a record that is not in the package"),
        (_another_day, "tells of record"),
        (_done_without_record, "names no record of it"),
        (_another_name, "names.csv does not show the names"),
        (_owner_cut, "the last records are missing"),
        (_owner_line_gone, "of the owner's ledger is missing"),
        (_owner_changed, "was altered after it was written"),
        (_owner_gone, "records of the log are not in it"),
    ],
)
def test_a_table_or_an_owners_ledger_that_was_changed_is_refused(
    book, packed, check, tampering, words
):
    """By whoever has the key: the manifest is made to fit."""
    from registry.services.log_keys import signer_of

    files = tampering(files_of(packed()))
    log = OwnerLog.objects.get(owner__name="Averhythe Quays")
    code, said = check(resigned(files, signer_of(log)))
    assert code == 1 and words in said.replace("\n", " "), said


def test_names_are_those_of_the_day(book, packed, world):
    world.owner.name = "Olive Newname"
    world.owner.save()
    note_everywhere(by=world.owner, now=NOW + timedelta(days=1))
    package = packed()
    names = {row["recorded_by_name"] for row in rows_of(package, "records.csv")}
    assert "Olive Manager" in names and "Olive Newname" not in names
    told = [
        row["name"] for row in rows_of(package, "names.csv") if row["id"] == str(world.owner.uuid)
    ]
    assert told == ["Olive Manager", "Olive Newname"]


def test_decisions_about_other_sites_are_there_by_their_hashes_alone(book, packed, check, world):
    from tests.factories import make_site

    other = make_site(world.owner_organisation, name="South Quay")
    make_system(other, world.owner, tag="SQ-1")
    begin_ledger(world.owner_organisation, now=NOW, by=world.owner)
    package = packed(sites=("North Quay",))
    code, said = check(package)
    assert code == 0, said
    assert b"South Quay" not in b"".join(files_of(package).values())
    assert "are there by their hashes alone" in said.replace("\n", " ")


def test_workbook_and_report_say_the_same_and_what_they_leave_out(book, packed, monkeypatch):
    monkeypatch.setattr("reports.proof.in_package.MOST_ROWS", 5)
    files = files_of(packed())
    sheets = load_workbook(BytesIO(files["records.xlsx"]), read_only=True)
    about = [row[0] for row in sheets["About"].iter_rows(values_only=True)]
    assert "The sheet “Records” holds 5 records and leaves out 17." in about
    cells = list(sheets["Records"].iter_rows(values_only=True))
    assert len(cells) == 6 and cells[1][0] == "North Quay"
    paper = PdfReader(BytesIO(files["report.pdf"]))
    text = "".join(page.extract_text() for page in paper.pages)
    assert "<pdfaid:part>2</pdfaid:part>" in paper.xmp_metadata.stream.get_data().decode()
    late = sum(row["outcome"] == "late" for row in rows_of(packed(), "demanded.csv"))
    assert f"late {late}" in " ".join(text.split())
    assert [name for name in files if name.startswith("certificates/nq-7")]


def test_text_in_the_workbook_is_never_a_formula(book, packed, world):
    from tests.factories import make_record

    make_record(book.system, "event.observation", NOW, world.owner, text="=1+1", now=NOW)
    make_record(book.system, "event.observation", NOW, world.owner, text="x", now=NOW)
    row = book.system.records.latest("sequence")
    type(row).objects.filter(pk=row.pk).update(note="=HYPERLINK(0)")
    content = files_of(packed())["records.xlsx"]
    with ZipFile(BytesIO(content)) as opened:
        assert b"<f>" not in b"".join(opened.read(name) for name in opened.namelist())


def test_a_package_holds_the_portfolio_report_unless_it_is_of_a_part(book, packed):
    paper = PdfReader(BytesIO(files_of(packed())["portfolio.pdf"]))
    words = " ".join(page.extract_text() for page in paper.pages)
    assert "Portfolio report" in words
    assert all(tag in words for tag in System.objects.values_list("tag", flat=True))
    assert "portfolio.pdf" not in files_of(packed(kinds=("event.head_break",)))
