"""Servers that go away while people enter events: each event is in the book once, and followed."""

import os
import shutil
import subprocess
from pathlib import Path

import psycopg
import pytest

from tests.faults.conftest import ON_POSTGRESQL, PATIENCE_S, Book, free_port, kill, run, wait_for
from tests.faults.reckoning import assert_whole

SYSTEMS = 24


def entered(book) -> int:
    return book.one("SELECT count(*) FROM registry_record WHERE kind = 'event.head_break'")


def test_redis_stops_during_entry_and_starts_again(book, redis):
    """Entry asks nothing of the queue, so nobody at the riser notices."""
    book.deed(f"make {SYSTEMS}")
    worker = book.worker()
    entry = book.begin(f"enter 0 {SYSTEMS}")
    wait_for("the first event", lambda: entered(book))
    redis.stop()
    assert entered(book) < SYSTEMS
    assert entry.wait(PATIENCE_S) == 0
    assert entered(book) == SYSTEMS
    redis.start()
    swept = book.one("SELECT count(*) FROM registry_job WHERE state = 'done'")
    wait_for(
        "a sweep after Redis came back",
        lambda: book.one("SELECT count(*) FROM registry_job WHERE state = 'done'") > swept,
        worker,
    )
    assert worker.poll() is None
    kill(worker)
    assert_whole(book, SYSTEMS)


class PostgreSQL:
    """A cluster of the test's own, run by whoever may run one."""

    def __init__(self, folder: Path):
        self.folder, self.port = folder, free_port()
        self.bin = Path(_output("pg_config", "--bindir"))
        self.user = "postgres" if os.geteuid() == 0 else None
        if self.user:
            _let_in(folder)
            shutil.chown(folder, self.user)
        self._run("initdb", "-D", self.data, "-U", "book", "-A", "trust", "--no-sync")
        self.start()

    @property
    def data(self) -> str:
        return str(self.folder / "data")

    @property
    def url(self) -> str:
        return f"postgres://book@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self.folder} -c fsync=off"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", self.data, "-o", options, "-l", log, "-w", "start")

    def stop(self, how: str = "immediate") -> None:
        """Immediate: as if the machine had lost its power; it recovers when it starts."""
        self._run("pg_ctl", "-D", self.data, "-m", how, "-w", "stop")

    def _run(self, program: str, *words: str) -> None:
        subprocess.run(
            [self.bin / program, *words], user=self.user, cwd=self.folder, check=True,
            stdout=subprocess.DEVNULL, timeout=PATIENCE_S,
        )  # fmt: skip


def _output(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


def _let_in(folder: Path) -> None:
    """pytest's folders are closed to others; the server's user must pass through them."""
    for each in (folder, *folder.parents):
        if not each.stat().st_mode & 0o001:
            each.chmod(each.stat().st_mode | 0o011)


@pytest.fixture
def cluster(tmp_path):
    if not ON_POSTGRESQL:
        pytest.skip("the database is a file; runs with DATABASE_URL of PostgreSQL")
    folder = tmp_path / "pg"
    folder.mkdir()
    server = PostgreSQL(folder)
    yield server
    server.stop()


@pytest.fixture
def own_book(cluster, tmp_path, post):
    made = Book(tmp_path, cluster.url, post)
    run(made.env, "manage.py", "migrate", "--verbosity", "0")
    yield made
    made.close()


def test_postgresql_stops_during_entry_and_starts_again(own_book, cluster):
    """A page keeps what was typed and sends it again under the same key until the book has it."""
    book = own_book
    book.deed(f"make {SYSTEMS}")
    worker = book.worker()
    entry = book.begin(f"enter 0 {SYSTEMS}")
    wait_for("the first event", lambda: entered(book))
    cluster.stop()
    with pytest.raises(psycopg.OperationalError):
        entered(book)
    cluster.start()
    assert entry.wait(PATIENCE_S) == 0
    assert book.said(entry)["tries"] > SYSTEMS, "the server was back before anybody noticed"
    assert entered(book) == SYSTEMS
    swept = book.one("SELECT count(*) FROM registry_job WHERE state = 'done'")
    wait_for(
        "a sweep after the restart",
        lambda: book.one("SELECT count(*) FROM registry_job WHERE state = 'done'") > swept,
        worker,
    )
    assert worker.poll() is None
    kill(worker)
    assert_whole(book, SYSTEMS)
