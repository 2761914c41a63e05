"""Another key in place of the one before, and a new epoch after a restore: what is told of them
by the book, by a package and by `verify.py`."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db.models import F

from registry.models import LoggedSystem, LogKey, OwnerLog, OwnerRecord
from registry.proof.notes import Verifier
from registry.services.log import make_checkpoint, number_all
from registry.services.log_handing import begin_epochs, rotate_key
from registry.services.log_keys import signer_of
from registry.verifying import against_checkpoint, log_differences
from registry.verifying.owner import check_owner
from tests.factories import NOW, make_record
from tests.registry.proof.packages import files_of, resigned

SOON = NOW + timedelta(days=1)


@pytest.fixture
def owner_of_log(world, book):
    number_all(world.owner_organisation, now=NOW)
    make_checkpoint(world.owner_organisation, now=NOW)
    return world.owner_organisation


@pytest.fixture
def kept(owner_of_log, tmp_path):
    """A checkpoint that somebody kept."""
    path = tmp_path / "old-checkpoint"
    path.write_text(owner_of_log.log.checkpoints.get().note, encoding="utf-8")
    return path


def fingerprint(owner, number: int) -> str:
    key = owner.log.keys.order_by("pk")[number]
    return Verifier.from_vkey(key.vkey).fingerprint


def test_another_key_signs_and_the_owners_ledger_says_so(owner_of_log, world):
    call_command(
        "rotate_log_key", owner=owner_of_log.name, by=world.owner.email, stdout=(out := StringIO())
    )
    assert fingerprint(owner_of_log, 1) in out.getvalue()
    row = OwnerRecord.objects.filter(subject="key").get()
    assert (row.facts["reason"], row.recorded_by) == ("rotated", world.owner)
    logs = OwnerLog.objects.all()
    assert list(log_differences(logs)) == [] and list(check_owner(owner_of_log)) == []
    assert signer_of(owner_of_log.log).verifier.fingerprint == fingerprint(owner_of_log, 1)


def test_who_knows_the_first_key_or_the_second_trusts_a_package(
    owner_of_log,
    kept,
    packed,
    check,
):
    rotate_key(owner_of_log, by=None, now=SOON)
    package = packed()
    for number in (0, 1):
        known = fingerprint(owner_of_log, number)
        code, said = check(package, "--key", known, "--checkpoint", str(kept))
        assert code == 0, said
        assert "handed the log to key" in said and "records are unchanged" in said
    code, said = check(package, "--key", "0" * 64)
    assert code == 1 and "another key than you named" in said


def test_a_key_put_in_place_without_the_one_before_is_refused(
    owner_of_log,
    packed,
    check,
):
    rotate_key(owner_of_log, by=None, now=SOON)
    files = files_of(packed())
    forged = files["log/keys.jsonl"].decode()
    lines = forged.split("\\n")
    signature = next(at for at, line in enumerate(lines) if "\\u2014" in line or "—" in line)
    del lines[signature]
    files["log/keys.jsonl"] = "\\n".join(lines).encode()
    code, said = check(resigned(files, signer_of(owner_of_log.log)))
    assert code == 1 and "not both of the two signed that" in said


def test_without_its_notes_a_package_is_of_an_unknown_signer(
    owner_of_log,
    packed,
    check,
):
    rotate_key(owner_of_log, by=None, now=SOON)
    files = files_of(packed())
    del files["log/keys.jsonl"]
    code, said = check(resigned(files, signer_of(owner_of_log.log)))
    assert code == 1 and "another key than you named" in said


def restored(owner, book, world, at: int):
    """As a restore leaves it: records after a backup are gone, and then the epoch begins."""
    begin_epochs(SOON)
    make_record(book.system, "event.observation", NOW, world.owner, text="After the restore")
    number_all(owner, now=SOON)
    return make_checkpoint(owner, now=SOON)


def test_a_restored_book_begins_an_epoch_that_is_explained(
    owner_of_log,
    book,
    world,
    kept,
    packed,
    check,
    tmp_path,
):
    size = OwnerLog.objects.get(owner=owner_of_log).size
    note = kept.read_text(encoding="utf-8")
    first = note.splitlines()[0]
    restored(owner_of_log, book, world, size)
    log = OwnerLog.objects.get(owner=owner_of_log)
    assert log.origin == f"{first}/epoch-2"
    assert list(log_differences(OwnerLog.objects.all())) == []
    assert list(check_owner(owner_of_log)) == []
    assert list(against_checkpoint(note)) == [], "what the backup held is still there"
    code, said = check(packed(), "--checkpoint", str(kept))
    assert "restored from an older backup" in said.replace("\n", " ")
    assert code == 0 and f"its first {size} records are unchanged" in said


def test_a_checkpoint_of_more_than_the_backup_held_is_explained_and_shows_nothing(
    owner_of_log,
    book,
    world,
    packed,
    check,
    tmp_path,
):
    """The log is cut back to what a backup held, as restoring it does."""
    log = OwnerLog.objects.get(owner=owner_of_log)
    before, keep = log.size, {"size": log.size, "owner_records": log.owner_records}
    lost = make_record(book.system, "event.observation", NOW, world.owner, text="After the backup")
    number_all(owner_of_log, now=NOW)
    newer = make_checkpoint(owner_of_log, now=NOW)
    path = tmp_path / "newer"
    path.write_text(newer.note, encoding="utf-8")
    lost.log_leaf.delete()
    newer.delete()
    OwnerLog.objects.filter(owner=owner_of_log).update(**keep)
    LoggedSystem.objects.filter(system=book.system).update(count=F("count") - 1)
    restored(owner_of_log, book, world, before)
    (what,) = against_checkpoint(path.read_text(encoding="utf-8"))
    assert f"covers {before + 1} records" in what and "restored" in what
    code, said = check(packed(), "--checkpoint", str(path))
    assert code == 3
    words = " ".join(said.split())
    assert f"restored on 2026-06-02T12:00:00Z from a backup that had {before}" in words


def test_nobody_named_rotates_nothing(owner_of_log):
    with pytest.raises(CommandError, match="no person"):
        call_command("rotate_log_key", owner=owner_of_log.name, by="nobody@averhythe.example")
    assert LogKey.objects.count() == 1
