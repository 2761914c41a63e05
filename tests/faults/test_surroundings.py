"""What the machine does to a book: rubbish, a full disk, a database that is held, a clock that
jumps. The web answers or says why, and all goes on by itself after."""

import resource
import sqlite3
import time

import pytest

from tests.faults.conftest import ON_POSTGRESQL, ON_REDIS, PATIENCE_S, kill, wait_for
from tests.faults.reckoning import assert_whole

SYSTEMS = 6
YEAR_S = 365 * 86_400
on_a_file = pytest.mark.skipif(ON_POSTGRESQL, reason="the database is a server; runs with SQLite")


def test_rubbish_in_every_folder_of_the_book(book):
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS} Olive unheard")
    for name in ("outbox", "queue", "queue-control", "media", "media/imports", "backups", "log"):
        folder = book.folder / name
        folder.mkdir(exist_ok=True)
        (folder / "empty").touch()
        (folder / "empty.eml").touch()
        (folder / "noise.tar").write_bytes(bytes(range(256)))
        (folder / "0.msg").write_text('{"body": ')
    web, worker = book.web(), book.worker()
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, worker)
    assert web.status("/sign-in/") == 200
    assert book.command("backup", "--to", str(book.folder / "b.tar")).returncode == 0
    kill(worker)
    kill(web.process)
    assert_whole(book, SYSTEMS, "sweep")


@on_a_file
def test_a_disk_that_is_full(book):
    """No file of the worker may grow, until one can again. The job that could not write is tried
    again; the web server, whose pages only read, goes on."""
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS} Olive unheard")
    web, worker = book.web(), book.worker()
    wait_for("a worker", lambda: book.one("SELECT count(*) FROM registry_workersign"), worker)
    no_room = (4096, resource.RLIM_INFINITY)
    resource.prlimit(worker.pid, resource.RLIMIT_FSIZE, no_room)
    time.sleep(5)
    assert worker.poll() is None, "a full disk ended the worker"
    assert web.status("/sign-in/") == 200
    resource.prlimit(
        worker.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    )
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, worker)
    kill(worker)
    kill(web.process)
    assert_whole(book, SYSTEMS, "sweep")


@on_a_file
def test_a_database_that_somebody_holds_for_longer_than_anybody_waits(book):
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS} Olive unheard")
    path = book.database_url.removeprefix("sqlite:///")
    line = sqlite3.connect(path, isolation_level=None)
    line.execute("BEGIN EXCLUSIVE")
    web, worker = book.web(), book.worker()
    assert web.status("/health/") == 200
    time.sleep(30)  # SQLite's own patience is 20 s
    assert worker.poll() is None
    line.execute("ROLLBACK")
    line.close()
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, worker)
    assert web.status("/ready/") == 200
    kill(worker)
    kill(web.process)
    assert_whole(book, SYSTEMS, "sweep")


@pytest.mark.skipif(ON_REDIS, reason="the clock of the embedded worker is the one that can be set")
def test_a_clock_that_jumps_a_year_ahead_and_back(book):
    """What is late by a year is escalated once; back in its time the worker goes on at once and
    takes back what it said ahead of time, and a year later it is said."""
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS}")
    done = "SELECT count(*) FROM registry_job WHERE kind = 'scheduling.sweep' AND state = 'done'"
    escalated = "SELECT count(*) FROM scheduling_escalation"
    clock = book.folder / "clock"
    worker = book.worker()
    wait_for("a first sweep", lambda: book.one(done), worker)
    clock.write_text(str(YEAR_S))
    before = book.one(done)
    wait_for("sweeps a year ahead", lambda: book.one(done) > before + 2, worker)
    levels = book.one(escalated)
    assert levels >= SYSTEMS
    clock.write_text("0")
    before = book.one(done)
    wait_for("a sweep in the right time", lambda: book.one(done) > before + 2, worker)
    assert book.one(escalated) == 0, "a level said ahead of time silences the later one"
    clock.write_text(str(YEAR_S))
    before = book.one(done)
    wait_for("sweeps of the year it is then", lambda: book.one(done) > before + 2, worker)
    assert book.one(escalated) == levels
    assert book.one(
        "SELECT count(*) FROM (SELECT task_id, level FROM scheduling_escalation "
        "GROUP BY task_id, level HAVING count(*) > 1) AS doubled"
    ) == 0  # fmt: skip
    print("counts:", {"escalations": levels, "sweeps": book.one(done)})
    kill(worker)


def test_a_long_first_calendar_does_not_end_a_web_worker(book):
    """A request that takes longer than a silent worker may: with threads it is not silent."""
    book.env["WEB_TIMEOUT"] = "2"
    book.deed("make 3", "enter 0 3")
    address = book.deed("long_calendar 10000")["address"]
    web = book.web()
    serving = web.workers()
    began = time.monotonic()
    assert web.status(address) == 200
    print("counts:", {"entries": 10_000, "seconds": round(time.monotonic() - began, 1)})
    assert web.workers() == serving
    assert PATIENCE_S > time.monotonic() - began > 2, "too quick to say anything"
    kill(web.process)
