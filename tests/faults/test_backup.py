"""Backups made under load, and restores killed at any moment: the book is the old one or the new
one, whole, with its files and its key."""

import random
import shutil
import time

import pytest

from tests.faults.conftest import ON_POSTGRESQL, PATIENCE_S, TRIES, Book, kill, run

SYSTEMS = 30


@pytest.fixture
def file(tmp_path):
    return tmp_path / "book.tar"


def backed_up(book, file) -> dict:
    """The book as it was when the backup was made."""
    done = book.command("backup", "--to", str(file))
    assert done.returncode == 0, done.stderr
    return book.deed("fingerprint")


def test_a_restored_book_is_the_one_that_was_backed_up(book, file):
    book.deed("make 5", "enter 0 5", "attach plan.csv")
    before = backed_up(book, file)
    book.deed("enter 0 5 Tam", "attach later.csv")
    (book.folder / "secret-key").write_text("another-key" * 8)
    assert book.deed("fingerprint") != before
    done = book.command("restore", str(file))
    assert done.returncode == 0, done.stderr
    after = book.deed("fingerprint")
    assert after.pop("files") == sorted([*before.pop("files"), "later.csv"])
    assert after == before
    assert not list(book.folder.glob(".restoring-*"))


def test_backups_made_while_people_enter_events(book, file, tmp_path):
    """Each holds all that was entered before it was begun, and restores."""
    book.deed(f"make {SYSTEMS}")
    entry = book.begin(f"enter 0 {SYSTEMS}")
    made = []
    for number in range(TRIES):
        before = book.one("SELECT count(*) FROM registry_record")
        target = tmp_path / f"{number}.tar"
        done = book.command("backup", "--to", str(target))
        assert done.returncode == 0, done.stderr
        made.append((target, before, int(done.stdout.split(": ")[1].split()[0])))
    assert entry.wait(PATIENCE_S) == 0
    for target, before, held in made:
        assert held >= before
        done = book.command("restore", str(target))
        assert done.returncode == 0, done.stderr
        assert book.one("SELECT count(*) FROM registry_record") == held
    print("counts:", {"backups under load": len(made), "records": [held for *_, held in made]})


def test_a_restore_killed_at_any_moment(book, file):
    """A random moment in each equal share of the time that a whole restore takes. Once one came
    through, the next tries put the other book back."""
    book.deed("make 2", "enter 0 2")
    older = backed_up(book, file)
    book.deed("enter 0 2 Tam")
    newer_file = file.with_name("newer.tar")
    newer = backed_up(book, newer_file)
    began = time.monotonic()
    assert book.command("restore", str(newer_file)).returncode == 0
    lasts = time.monotonic() - began
    there, other = (newer, newer_file), (older, file)
    counts = {"as it was": 0, "restored": 0}
    for number in range(TRIES):
        restoring = book.begin_command("restore", str(other[1]))
        time.sleep((number + random.random()) / TRIES * lasts)
        kill(restoring)
        found = book.deed("fingerprint")
        assert found in (there[0], other[0])
        counts["as it was" if found == there[0] else "restored"] += 1
        if found == other[0]:
            there, other = other, there
    print("counts:", {"killed": TRIES, "seconds": round(lasts, 1), **counts})
    assert book.command("restore", str(other[1])).returncode == 0
    assert book.deed("fingerprint") == other[0]


def test_a_damaged_backup_is_refused_and_nothing_is_changed(book, file):
    book.deed("make 2", "enter 0 2")
    before = backed_up(book, file)
    whole = file.read_bytes()
    middle = len(whole) // 3
    cases = {
        "a byte": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
        "its end": whole[: len(whole) // 2],
        "all": b"no backup at all" * 100,
    }
    for what, content in cases.items():
        file.write_bytes(content)
        done = book.command("restore", str(file))
        assert done.returncode == 1, what
        assert "Traceback" not in done.stderr
    assert book.deed("fingerprint") == before


def test_a_book_that_is_served_is_not_restored_under_its_readers(book, file):
    book.deed("make 1")
    backed_up(book, file)
    web = book.web()
    done = book.command("restore", str(file))
    assert done.returncode == 1
    assert "Stop the web server" in done.stderr
    kill(web.process)
    assert book.command("restore", str(file)).returncode == 0


@pytest.mark.skipif(not ON_POSTGRESQL, reason="moves from SQLite to PostgreSQL; needs both")
def test_the_move_from_sqlite_to_postgresql(book, file, tmp_path, post):
    folder = tmp_path / "embedded"
    folder.mkdir()
    embedded = Book(folder, f"sqlite:///{folder}/book.sqlite3", post)
    run(embedded.env, "manage.py", "migrate", "--verbosity", "0")
    embedded.deed("make 10", "enter 0 10", "attach plan.csv", "set_aside gauges-wet", "plan")
    before = backed_up(embedded, file)
    shutil.rmtree(book.folder / "media", ignore_errors=True)
    done = book.command("restore", str(file))
    assert done.returncode == 0, done.stderr
    assert book.deed("fingerprint") == before
    book.deed("enter 0 10 Tam")  # new rows get new numbers
