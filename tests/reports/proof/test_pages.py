"""Packages, checkpoints and older states of the book, as an auditor uses the pages."""

import json
import subprocess
import sys
from datetime import timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse

from registry.chain import GENESIS, text_hash
from registry.models import RecordPackage
from registry.services.log import make_checkpoint, number_all
from registry.services.owner_ledger import begin_ledger, note_everywhere
from scheduling.messages.chain_heads import heads_file
from scheduling.models import Message
from tests.factories import NOW, make_record, make_site, make_system
from tests.jobs import run_waiting
from tests.registry.verifying.conftest import book  # noqa: F401

PROOF = reverse("reports:proof")


def sql(statement: str, *values) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        assert cursor.rowcount, "nothing was tampered with"


@pytest.fixture
def auditor(client, world, book):  # noqa: F811
    client.force_login(world.auditor)
    return client


def ask_for(client, owner, **chosen) -> RecordPackage:
    answer = client.post(reverse("reports:packages", args=[owner.pk]), chosen)
    assert answer.status_code == 302, answer.content.decode()
    run_waiting("scheduling.package")
    return RecordPackage.objects.get()


def test_an_auditor_takes_a_package_that_checks_itself(auditor, world, tmp_path):
    package = ask_for(auditor, world.owner_organisation, sites=[world.site.name])
    page = auditor.get(package.get_absolute_url()).content.decode()
    assert "Download the package" in page and package.manifest_sha256 in page
    answer = auditor.get(reverse("reports:package-file", args=[package.uuid]))
    path = tmp_path / "package.zip"
    path.write_bytes(b"".join(answer.streaming_content))
    with ZipFile(path) as packed:
        packed.extract("verify.py", tmp_path)
    done = subprocess.run(
        [sys.executable, tmp_path / "verify.py", path], capture_output=True, text=True, check=False
    )
    assert done.returncode == 3, done.stdout + done.stderr  # the signer is not known to it
    assert "signer unknown" in done.stdout
    assert Message.objects.get(kind="package").person == world.auditor


def test_a_package_holds_only_what_was_chosen(auditor, world, book):  # noqa: F811
    package = ask_for(
        auditor, world.owner_organisation, systems="NQ-7", kinds=["event.observation"]
    )
    with package.file.open("rb") as file, ZipFile(BytesIO(file.read())) as packed:
        lines = packed.read("records.csv").decode("utf-8-sig").splitlines()
        rows = packed.read("records.jsonl").decode().splitlines()
    assert len(lines) == 2 and "event.observation" in lines[1]
    assert len(rows) == book.system.records.count(), "the rest is there by its hash"


def test_a_package_of_a_ledger_that_does_not_hold_is_refused(auditor, world, book):  # noqa: F811
    sql("UPDATE registry_piperun SET wall_mm = wall_mm + 1 WHERE id = %s", book.pipe.pk)
    package = ask_for(auditor, world.owner_organisation)
    assert not package.file and "NQ-7" in package.refused[0]
    assert "was not made" in auditor.get(package.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ({"systems": "XX-1"}, "No system has the tag XX-1"),
        ({"since": "2026-05-02", "until": "2026-05-01"}, "This day is before the first"),
    ],
)
def test_what_cannot_be_packed_is_said_beside_the_field(auditor, world, chosen, words):
    answer = auditor.post(reverse("reports:packages", args=[world.owner_organisation.pk]), chosen)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not RecordPackage.objects.exists()


def compare(client, text: str) -> str:
    file = SimpleUploadedFile("kept.txt", text.encode())
    return client.post(PROOF, {"file": file}).content.decode()


def test_a_book_goes_on_from_an_older_checkpoint_and_list_of_heads(auditor, world, book):  # noqa: F811
    note = make_checkpoint_now(world)
    heads = heads_file(world.auditor, NOW + timedelta(days=1))[1]
    make_record(book.system, "event.observation", NOW, world.owner, text="Later")
    for kept in (note, heads):
        assert "is a continuation of it" in compare(auditor, kept)


def make_checkpoint_now(world) -> str:
    number_all(world.owner_organisation, now=NOW)
    return make_checkpoint(world.owner_organisation, now=NOW).note


def test_a_list_of_heads_names_the_record_from_which_the_book_differs(auditor, world, book):  # noqa: F811
    heads = heads_file(world.auditor, NOW + timedelta(days=1))[1]
    last = book.system.records.latest("sequence")
    sql("UPDATE registry_record SET hash = %s WHERE id = %s", "0" * 64, last.pk)
    page = compare(auditor, heads)
    assert "is not a continuation" in page and f"record {last.sequence}" in page


def test_a_checkpoint_finds_a_log_that_was_rewritten(auditor, world):
    note = make_checkpoint_now(world)
    sql("UPDATE registry_logleaf SET hash = %s WHERE number = 0", "0" * 64)
    assert "is not a continuation" in compare(auditor, note)


def test_a_file_that_is_neither_is_said_to_be(auditor):
    answer = auditor.post(PROOF, {"file": SimpleUploadedFile("x.txt", b"what, is, this")})
    assert answer.status_code == 422 and "Line 1 is no head" in answer.content.decode()


def test_comparing_tells_nothing_of_somebody_elses_book(auditor):
    other = make_system(make_site())
    page = compare(auditor, f"{other.uuid},1,{other.records.get(sequence=1).hash}\n")
    assert "in the list and not in the book" in page and other.tag not in page


def test_a_checkpoint_can_be_taken_away_at_any_time(auditor, world):
    answer = auditor.get(reverse("reports:checkpoint", args=[world.owner_organisation.pk]))
    assert "is a continuation of it" in compare(auditor, answer.content.decode())


def test_a_package_carries_the_owners_ledger_and_who_was_called_what(auditor, world):
    begin_ledger(world.owner_organisation, now=NOW)
    before = world.owner.name
    world.owner.name = "Ova Newname"
    world.owner.save()
    note_everywhere(by=world.owner, now=NOW + timedelta(days=1))
    package = ask_for(auditor, world.owner_organisation)
    with package.file.open("rb") as file, ZipFile(BytesIO(file.read())) as packed:
        names = packed.read("names.csv").decode()
        lines = packed.read("owner.jsonl").decode().splitlines()
    assert before in names and "Ova Newname" in names
    previous = GENESIS
    for line in lines:
        row, text = json.loads(line), line.split('"body":', 1)[1][:-1]
        assert (row["previous_hash"], row["hash"]) == (previous, text_hash(previous, text))
        previous = row["hash"]
