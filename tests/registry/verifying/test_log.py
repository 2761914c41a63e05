"""The log x every way to tamper with it: found by verify_records, or by one older checkpoint."""

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from registry.chain import record_hash
from registry.models import (
    LogCheckpoint,
    LoggedSystem,
    LogLeaf,
    LogNode,
    OwnerLog,
    Record,
    System,
)
from registry.services.ledger import record_body
from registry.services.log import make_checkpoint, number_records
from registry.verifying import differences, log_differences
from registry.verifying.log import in_log
from scheduling.models import RuleRun
from tests.factories import NOW, make_record


@pytest.fixture
def owner_of_log(world):
    return world.owner_organisation


@pytest.fixture
def logged(book, owner_of_log):
    """The book with all its records in a signed log."""
    number_records(owner_of_log, now=NOW)
    make_checkpoint(owner_of_log, now=NOW)
    return book


def found() -> list[str]:
    systems = differences(System.objects.all(), more=[in_log])
    return [*(one.what for one in systems), *log_differences(OwnerLog.objects.all())]


def middle() -> LogLeaf:
    return LogLeaf.objects.get(number=9)


def _swap():
    one, two = LogLeaf.objects.filter(number__in=(4, 5)).order_by("number")
    for leaf, number in ((one, 99), (two, 4), (one, 5)):
        LogLeaf.objects.filter(pk=leaf.pk).update(number=number)


TAMPERINGS = {
    "a leaf changed": lambda: LogLeaf.objects.filter(number=9).update(hash="0" * 64),
    "a leaf that is no hash": lambda: LogLeaf.objects.filter(number=9).update(hash="gone"),
    "a leaf deleted": lambda: middle().delete(),
    "the last leaf deleted": lambda: LogLeaf.objects.order_by("number").last().delete(),
    "all leaves deleted": lambda: LogLeaf.objects.all().delete(),
    "two leaves swapped": _swap,
    "the size changed": lambda: OwnerLog.objects.update(size=7),
    "the count of a system changed": lambda: LoggedSystem.objects.update(count=5),
    "a checkpoint of another size": lambda: LogCheckpoint.objects.update(size=7),
    "a checkpoint of more records": lambda: LogCheckpoint.objects.update(size=700),
    "a checkpoint signed by nobody": lambda: LogCheckpoint.objects.update(note="a\n1\nb\n"),
    "a node made up": lambda: LogNode.objects.create(
        log=OwnerLog.objects.get(), level=8, number=0, hash="0" * 64
    ),
}


def test_an_untouched_log_holds_with_records_that_wait(logged, world):
    make_record(logged.system, "event.observation", NOW, world.owner, text="Not yet in the log")
    assert found() == []


@pytest.mark.parametrize("name", TAMPERINGS)
def test_a_log_tampered_with_is_found(logged, name):
    TAMPERINGS[name]()
    assert found()


def test_a_node_changed_is_found(logged, world, owner_of_log):
    for number in range(240):
        row = Record(
            system=logged.system, sequence=23 + number, kind="event.observation", recorded_at=NOW,
            occurred_at=NOW, recorded_by=world.owner, hash=f"{number:064x}",
        )  # fmt: skip
        row.save()
    System.objects.filter(pk=logged.system.pk).update(next_sequence=261)
    number_records(owner_of_log, now=NOW)
    assert list(log_differences(OwnerLog.objects.all())) == []
    LogNode.objects.update(hash="0" * 64)
    assert len(list(log_differences(OwnerLog.objects.all()))) == 1


def test_an_end_cut_off_with_its_head_moved_back_is_found_by_the_log(logged):
    """What no chain shows by itself."""
    last = Record.objects.get(pk=logged.done.pk)
    logged.system.occurrences.filter(record=last).update(record=None)
    last.attachments.all().delete()
    RuleRun.objects.filter(record=last).delete()
    LogLeaf.objects.filter(record=last).delete()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM registry_record WHERE id = %s", [last.pk])
        cursor.execute(
            "UPDATE registry_system SET head_hash = %s, next_sequence = %s WHERE id = %s",
            [last.previous_hash, last.sequence, logged.system.pk],
        )
    assert found()[0].startswith("The log holds 22 records of this system")


@pytest.fixture
def kept(logged, tmp_path):
    path = tmp_path / "checkpoint"
    path.write_text(LogCheckpoint.objects.get().note, encoding="utf-8")
    return path


def test_a_book_that_went_on_goes_on_from_an_older_checkpoint(logged, world, owner_of_log, kept):
    make_record(logged.system, "event.observation", NOW, world.owner, text="Later")
    number_records(owner_of_log, now=NOW)
    make_checkpoint(owner_of_log, now=NOW)
    call_command("verify_records", against=kept)


def test_a_whole_book_rewritten_is_found_by_one_older_checkpoint(
    logged, world, owner_of_log, kept, capsys
):
    """Records, hashes, heads, log and checkpoints, all in keeping with each other, by somebody
    who has the key too."""
    previous = ""
    for row in logged.system.records.order_by("sequence"):
        row.previous_hash = previous
        row.note = "rewritten" if row.kind == "event.observation" else row.note
        row.hash = previous = record_hash(previous, record_body(row))
        row.save()
    System.objects.filter(pk=logged.system.pk).update(head_hash=previous)
    for model in (LogCheckpoint, LogLeaf, LogNode, LoggedSystem):
        model.objects.all().delete()
    OwnerLog.objects.update(size=0)
    number_records(owner_of_log, now=NOW)
    make_checkpoint(owner_of_log, now=NOW)
    call_command("verify_records")  # by itself it holds
    with pytest.raises(CommandError, match="does not go on from the checkpoint of 22 records"):
        call_command("verify_records", against=kept)


def test_a_log_shorter_than_an_older_checkpoint_is_found(logged, kept):
    for model in (LogCheckpoint, LogLeaf, LogNode, LoggedSystem):
        model.objects.all().delete()
    OwnerLog.objects.update(size=0)
    with pytest.raises(CommandError, match="had 22 records when the checkpoint was made, and has"):
        call_command("verify_records", against=kept)


@pytest.mark.parametrize(
    ("old", "new"),
    [("\n22\n", "\n23\n"), ("/log/", "/log/x"), ("\u2014", "-")],
    ids=["changed", "of another log", "no note"],
)
def test_what_is_no_checkpoint_of_this_book_is_refused(kept, old, new):
    kept.write_text(kept.read_text("utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(CommandError):
        call_command("verify_records", against=kept)


def test_the_command_numbers_and_signs_for_every_owner(book, world, capsys):
    from tests.factories import make_system

    make_system(world.other_site, world.stranger)
    call_command("log_records")
    assert capsys.readouterr().out.splitlines() == [
        "Averhythe Quays: 22 records added, 22 in the log.",
        "Dunlore Cold Storage: 1 records added, 1 in the log.",
    ]
    call_command("log_records")
    call_command("verify_records")
    assert "23 records of 2 systems hold." in capsys.readouterr().out
