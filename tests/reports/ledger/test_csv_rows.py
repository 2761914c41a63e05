import csv
import hashlib
import html
import io
import re
import subprocess
import sys
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from registry import services
from registry.chain import canonical_json
from registry.models import Record
from registry.proof.cells import csv_lines, csv_text, safe_cell
from registry.services import record_body
from registry.services.stored_records import there, utc_text
from reports.ledger.csv_rows import LEDGER_COLUMNS, LedgerExport
from tests.factories import NOW, make_record, make_system

AUDIT, AUDIT_CSV = reverse("reports:audit"), reverse("reports:audit-csv")


def read(response):
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


@pytest.fixture
def book(world, owner, technician):
    system = make_system(world.site, owner, tag="NQ-1", now=datetime(2026, 4, 1, tzinfo=UTC))
    at = datetime(2026, 5, 1, 12, tzinfo=UTC)
    wrong = make_record(system, "reading.gas", at, technician, now=at, n2_percent=89.4)
    services.record(
        system=system, kind="reading.gas", occurred_at=at, details={"n2_percent": 98.4},
        recorded_by=owner, supersedes=wrong, now=NOW, note="=HYPERLINK(\"bad\")",
    )  # fmt: skip
    system.refresh_from_db()
    return system


@pytest.mark.parametrize(
    "query",
    [
        {},
        {"kind": "reading.gas"},
        {"show": "counting"},
        {"as_of": "2026-05-15"},
        {"as_of": "2026-05-15", "show": "counting"},
        {"first": "2026-04-20", "last": "2026-05-31"},
    ],
    ids=str,
)
def test_export_and_page_show_the_same_rows(client, book, auditor, query):
    client.force_login(auditor)
    shown = [
        (str(row.record.sequence), row.said, row.standing, row.record.hash)
        for row in client.get(AUDIT, query).context["rows"]
    ]
    exported = [
        (line["number"], line["said"], line["standing"], line["hash"])
        for line in read(client.get(AUDIT_CSV, query))
    ]
    assert exported == shown
    assert exported


def test_the_export_of_one_system_holds_its_whole_ledger_in_order(client, book, auditor):
    client.force_login(auditor)
    response = client.get(reverse("reports:ledger-csv", args=[book.pk]))
    lines = read(response)
    assert [line["number"] for line in lines] == ["1", "2", "3"]
    assert lines[-1]["hash"] == lines[0]["head_of_ledger"] == book.head_hash
    assert book.head_hash[:12] in response["Content-Disposition"]


def test_an_export_lets_anybody_work_the_hashes_out_again(client, book, auditor):
    """SHA-256 (FIPS 180-4) by the standard library alone, from what stands in the file."""
    client.force_login(auditor)
    lines = read(client.get(reverse("reports:ledger-csv", args=[book.pk])))
    before = ""
    for line in lines:
        text = f"{before}\n{line['body']}".encode()
        assert line["previous_hash"] == before
        assert line["hash"] == hashlib.sha256(text).hexdigest()
        before = line["hash"]
    assert before == book.head_hash


def test_times_stand_in_the_zone_of_the_site_and_in_utc(client, book, auditor):
    client.force_login(auditor)
    line = read(client.get(AUDIT_CSV, {"kind": "reading.gas"}))[-1]
    assert line["happened"] == "2026-05-01T13:00:00+01:00"
    assert line["happened_utc"] == "2026-05-01T12:00:00Z"


def test_a_note_that_looks_like_a_formula_is_made_harmless(client, book, auditor):
    client.force_login(auditor)
    (note,) = {line["note"] for line in read(client.get(AUDIT_CSV)) if line["note"]}
    assert note == '\'=HYPERLINK("bad")'
    assert Record.objects.get(note__startswith="=").note == '=HYPERLINK("bad")'


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+44 20", "'+44 20"),
        ("-", "'-"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\r=1"),
        (" =1", "' =1"),
        ("plain = text", "plain = text"),
        (-3.5, -3.5),
        ("", ""),
    ],
)
def test_what_a_spreadsheet_takes_for_a_formula_gets_an_apostrophe(cell, written):
    assert safe_cell(cell) == written


def test_lines_come_one_by_one():
    handed_out = []

    def lines():
        for number in range(3):
            handed_out.append(number)
            yield [number]

    text = csv_lines(["number"], lines())
    assert next(text) == "\ufeffnumber\r\n"
    assert handed_out == []
    assert next(text) == "0\r\n"
    assert handed_out == [0]


def test_every_column_is_filled_by_every_row(client, book, auditor):
    client.force_login(auditor)
    lines = read(client.get(AUDIT_CSV))
    assert len(lines) == book.records.count()
    for line in lines:
        assert tuple(line) == LEDGER_COLUMNS
        assert None not in line.values()


def checked(folder, script: str, text: str) -> list[str]:
    """What the script says of a file, run by a Python that knows nothing of this project."""
    (folder / "check.py").write_text(script)
    (folder / "ledger.csv").write_text(text, encoding="utf-8-sig")
    command = [sys.executable, "-I", "check.py", "ledger.csv"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()


def script_on(page: str) -> str:
    return html.unescape(re.search(r'id="check-script">(.+?)</pre>', page, re.DOTALL)[1])


def test_the_script_on_the_page_of_all_ledgers_checks_the_file_as_it_is_downloaded(
    client, book, auditor, tmp_path
):
    """Its rows come newest first and one system after another; nobody should have to sort them."""
    client.force_login(auditor)
    script = script_on(client.get(reverse("reports:audit")).content.decode())
    text = b"".join(client.get(AUDIT_CSV).streaming_content).decode("utf-8-sig")
    told = checked(tmp_path, script, text)
    assert len(told) >= book.records.count() > 1
    assert all(line.endswith(" fits") for line in told)


def test_the_script_on_the_ledger_page_checks_the_downloaded_file(client, book, auditor, tmp_path):
    client.force_login(auditor)
    script = script_on(client.get(reverse("reports:ledger", args=[book.pk])).content.decode())
    response = client.get(reverse("reports:ledger-csv", args=[book.pk]))
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    told = checked(tmp_path, script, text)
    assert len(told) == book.records.count()
    assert all(line.endswith(" fits") for line in told)
    forged = checked(tmp_path, script, text.replace('n2_percent"":89.4', 'n2_percent"":99.4'))
    assert [line for line in forged if not line.endswith(" fits")] == [
        f"{book.site.name} {book.tag} 2 DOES NOT FIT"
    ]


def test_the_export_says_what_protection_was_after_a_record(client, book, auditor, technician):
    at = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
    make_record(book, "event.head_break", at, technician, count=1)
    make_record(book, "reading.gas", NOW, technician, n2_percent=98.0)
    client.force_login(auditor)
    told = {line["kind"]: line["protection"] for line in read(client.get(AUDIT_CSV))}
    local = at.astimezone(book.site.zone)
    began = f"{local.day} {local:%b %Y, %H:%M}"
    words = f"Protection: impaired since {began}. Not known: who was told, fire watch."
    assert (told["event.head_break"], told["reading.gas"]) == (words, "")
    page = client.get(AUDIT).content.decode()
    assert page.count(words) == 1


def test_a_withdrawn_record_is_said_to_have_done_nothing(client, book, auditor, technician):
    at = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
    broken = make_record(book, "event.head_break", at, technician, count=1)
    services.withdraw(record=broken, recorded_by=technician, reason="Another riser", now=NOW)
    client.force_login(auditor)
    told = {line["kind"]: line["protection"] for line in read(client.get(AUDIT_CSV))}
    assert told["event.head_break"] == ""


def test_the_body_out_of_columns_is_the_one_that_the_hash_covers(client, book, auditor, owner):
    services.record(
        system=book, kind="event.observation", occurred_at=NOW, recorded_by=owner, now=NOW,
        details={"text": 'Ünter "die" Räder\n\t\\ and \u2028 \x07'}, note='said "so",\r\nand more',
    )  # fmt: skip
    make_record(book, "reading.gas", NOW, owner, now=NOW.replace(microsecond=120), n2_percent=97.0)
    client.force_login(auditor)
    lines = read(client.get(reverse("reports:ledger-csv", args=[book.pk])))
    bodies = [canonical_json(record_body(row)) for row in book.records.order_by("sequence")]
    assert [line["body"] for line in lines] == bodies
    assert {line["check"] for line in lines} == {"The hash fits."}


@pytest.mark.parametrize(
    "change",
    [
        {"note": "another"},
        {"details": {"n2_percent": 99.9}},
        {"kind": "reading.none"},
        {"recorded_at": NOW},
        {"occurred_at": NOW},
    ],
    ids=lambda change: next(iter(change)),
)
def test_an_altered_record_is_marked_in_its_row(client, book, auditor, change):
    Record.objects.filter(system=book, sequence=2).update(**change)
    client.force_login(auditor)
    lines = read(client.get(AUDIT_CSV))
    marked = [line["number"] for line in lines if line["check"].startswith("DOES NOT HOLD: this")]
    assert marked == ["2"]


@pytest.mark.parametrize(
    "utc", ["2026-03-29T00:59:59.000000", "2026-03-29T01:00:00.000000", "2026-07-01T23:30:00.5"]
)
@pytest.mark.parametrize("zone", ["Europe/London", "Asia/Kathmandu", "America/St_Johns"])
def test_local_times_are_those_of_the_zone(utc, zone):
    when = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    local = when.astimezone(ZoneInfo(zone)).isoformat(timespec="seconds")
    assert there(utc, zone) == local


@pytest.mark.parametrize(
    ("stored", "utc"),
    [
        ("2026-05-01 12:00:00", "2026-05-01T12:00:00.000000"),
        ("2026-05-01 12:00:00.000120", "2026-05-01T12:00:00.000120"),
        ("2026-05-01 12:00:00+00", "2026-05-01T12:00:00.000000"),
        ("2026-05-01 12:00:00.12+00", "2026-05-01T12:00:00.120000"),
        ("2026-05-01 12:00:00.12+02", "2026-05-01T10:00:00.120000"),
    ],
)
def test_instants_are_read_as_either_database_writes_them(stored, utc):
    assert utc_text(stored) == utc


@pytest.mark.parametrize("cell", ["", "plain", 'a "b"', "a,b", "a\nb", "a\rb", " a", 3, "';"])
def test_a_cell_is_quoted_as_the_csv_module_does_it(cell):
    assert f"x,{csv_text(cell)}\r\n" == list(csv_lines(["x"], [["x", cell]]))[1]


def test_the_export_is_in_english_for_a_reader_of_another_language(client, book, auditor):
    auditor.language = "es"
    auditor.save()
    client.force_login(auditor)
    (line,) = [line for line in read(client.get(AUDIT_CSV)) if line["number"] == "2"]
    assert (line["record"], line["standing"]) == ("Gas reading", "corrected by 3")


def test_a_million_rows_need_no_more_queries_than_their_blocks(
    client, book, auditor, owner, django_assert_max_num_queries
):
    for number in range(40):
        make_record(book, "event.observation", NOW, owner, text=f"Number {number}")
    export = LedgerExport(Record.objects.order_by("pk"), "si")
    with django_assert_max_num_queries(5):
        text = "".join(export.text())
    assert text.count("\r\n") == 1 + Record.objects.count()
