"""A book of its own for each fault: scratch database, perhaps a private Redis, processes.

Without DATABASE_URL of PostgreSQL the database is an SQLite file, without REDIS_URL one worker loop
claims the jobs: the embedded profile. With them it is the profile of a service.
"""

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlsplit
from urllib.request import urlopen

import psycopg
import pytest

from tests.faults.mailbox import Mailbox, mailbox

ROOT = Path(__file__).parents[2]
PATIENCE_S = 300
TRIES = int(os.environ.get("TRIES", "3"))
"""How often a process is killed at a random moment; `make faults TRIES=20` for the long run."""
ON_POSTGRESQL = os.environ.get("DATABASE_URL", "").startswith("postgres")
ON_REDIS = bool(os.environ.get("REDIS_URL"))


def wait_for(what: str, condition: Callable[[], object], *workers: subprocess.Popen):
    """Until the condition holds; fails when it does not come, or when a worker ends before."""
    deadline = time.monotonic() + PATIENCE_S
    while not condition():
        if time.monotonic() > deadline:
            pytest.fail(f"{what} did not come within {PATIENCE_S} s")
        if any(worker.poll() is not None for worker in workers):
            pytest.fail(f"a worker ended by itself before {what} came")
        time.sleep(0.02)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Book:
    """The environment in which processes share one book, and what they did to it."""

    def __init__(self, folder: Path, database_url: str, post: Mailbox, redis_url: str = ""):
        self.folder, self.database_url, self.post = folder, database_url, post
        self.processes: list[subprocess.Popen] = []
        outside = {"DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE", "RISERBOOK_VAR_DIR"}
        self.env = {name: value for name, value in os.environ.items() if name not in outside}
        self.env |= {
            "RISERBOOK_VAR_DIR": str(folder), "DATABASE_URL": database_url, "REDIS_URL": redis_url,
            "EMAIL_URL": post.url, "DJANGO_SETTINGS_MODULE": "config.settings",
            "LOG_LEVEL": "WARNING", "STATIC_MANIFEST": "0", "DATABASE_CONN_MAX_AGE": "0",
        }  # fmt: skip

    def start(self, *command: str) -> subprocess.Popen:
        log = (self.folder / f"log-{len(self.processes)}").open("w")
        process = subprocess.Popen(
            [sys.executable, "-m", *command], cwd=ROOT, env=self.env, stdout=log, stderr=log,
            start_new_session=True,
        )  # fmt: skip
        log.close()
        self.processes.append(process)
        return process

    def deed(self, *deeds: str) -> dict:
        """What the last of them found."""
        done = subprocess.run(
            [sys.executable, "-m", "tests.faults.deeds", *deeds],
            cwd=ROOT, env=self.env, text=True, capture_output=True, timeout=PATIENCE_S,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout.splitlines()[-1])

    def begin(self, *deeds: str) -> subprocess.Popen:
        return self.start("tests.faults.deeds", *deeds)

    def said(self, process: subprocess.Popen) -> dict:
        """What a deed that was begun found in the end."""
        log = self.folder / f"log-{self.processes.index(process)}"
        return json.loads(log.read_text().splitlines()[-1])

    def command(self, *words: str) -> subprocess.CompletedProcess:
        """A command of manage.py, to its end."""
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT, env=self.env, text=True, capture_output=True, timeout=PATIENCE_S,
        )  # fmt: skip

    def begin_command(self, *words: str) -> subprocess.Popen:
        return subprocess.Popen(
            [sys.executable, "manage.py", *words], cwd=ROOT, env=self.env,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip

    def web(self) -> "Web":
        port = free_port()
        config = str(ROOT / "config" / "gunicorn.conf.py")
        process = self.start(
            *("gunicorn", "config.wsgi", "--config", config),
            *("--bind", f"127.0.0.1:{port}", "--workers", "1"),
        )
        web = Web(process, port)
        wait_for("the web server", lambda: web.status("/health/") == 200, process)
        return web

    def worker(self, *options: str) -> subprocess.Popen:
        if not self.env["REDIS_URL"]:
            return self.start("tests.faults.quick")
        number = len(self.processes)
        return self.start(
            *("celery", "-A", "tests.faults.quick", "worker", "--concurrency", "1"),
            *("--hostname", f"worker{number}@here", "--without-gossip", "--without-mingle"),
            *("--loglevel", "warning", *options),
        )

    def one(self, question: str) -> int:
        """The answer to a query of one number, asked without Django and in no transaction."""
        if self.database_url.startswith("sqlite"):
            path = self.database_url.removeprefix("sqlite:///")
            with sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=20) as line:
                answer = line.execute(question).fetchone()[0]
            line.close()
            return answer
        with psycopg.connect(self.database_url, autocommit=True) as line:
            return line.execute(question).fetchone()[0]

    def tasks(self) -> int:
        return self.one("SELECT count(*) FROM scheduling_task")

    def unsent(self) -> int:
        return self.one(
            "SELECT count(*) FROM scheduling_message WHERE state IN ('pending', 'claimed')"
        )

    def close(self) -> None:
        for process in self.processes:
            kill(process)


class Web:
    def __init__(self, process: subprocess.Popen, port: int):
        self.process, self.port = process, port

    def status(self, path: str) -> int:
        """Of the answer; 0 for none."""
        try:
            with urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=PATIENCE_S) as answer:
                return answer.status
        except HTTPError as error:
            return error.code
        except OSError:
            return 0

    def workers(self) -> set[str]:
        """Processes that serve, by number."""
        found = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(self.process.pid)], capture_output=True, text=True
        )
        return set(found.stdout.split())


def kill(process: subprocess.Popen) -> None:
    """kill -9, with every child that it has."""
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(timeout=PATIENCE_S)


def run(book_env: dict, *words: str) -> None:
    done = subprocess.run(
        [sys.executable, *words], cwd=ROOT, env=book_env, text=True, capture_output=True
    )
    assert done.returncode == 0, done.stderr


class Databases:
    """A migrated database, copied for each test."""

    def __init__(self, folder: Path, server: str = ""):
        self.folder, self.server, self.count = folder, server, 0
        self.name = f"faults_{os.getpid()}_{folder.name.replace('-', '_')}"
        self.template = self._new(self.name) if server else f"sqlite:///{folder}/empty.sqlite3"
        env = os.environ | {
            "DATABASE_URL": self.template, "RISERBOOK_VAR_DIR": str(folder), "REDIS_URL": "",
            "DJANGO_SETTINGS_MODULE": "config.settings",
        }  # fmt: skip
        run(env, "manage.py", "migrate", "--verbosity", "0")

    def _new(self, name: str, template: str = "template1") -> str:
        with psycopg.connect(f"{self.server}/postgres", autocommit=True) as line:
            line.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
        return f"{self.server}/{name}"

    def copy(self, folder: Path) -> str:
        self.count += 1
        if self.server:
            return self._new(f"{self.name}_{self.count}", self.name)
        shutil.copy(self.folder / "empty.sqlite3", folder / "book.sqlite3")
        return f"sqlite:///{folder}/book.sqlite3"

    def drop(self) -> None:
        if not self.server:
            return
        names = [self.name, *(f"{self.name}_{number + 1}" for number in range(self.count))]
        with psycopg.connect(f"{self.server}/postgres", autocommit=True) as line:
            for name in names:
                line.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


@pytest.fixture(scope="session")
def databases(tmp_path_factory):
    server = ""
    if ON_POSTGRESQL:
        parts = urlsplit(os.environ["DATABASE_URL"])
        server = f"postgres://{parts.netloc}"
    made = Databases(tmp_path_factory.mktemp("empty"), server)
    yield made
    made.drop()


@pytest.fixture
def post():
    with mailbox() as server:
        yield server


class Redis:
    """A server of the test's own on a free port; never the machine's."""

    def __init__(self, folder: Path):
        self.folder, self.port = folder, free_port()
        self.url = f"redis://127.0.0.1:{self.port}/0"
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--save", "",
             "--dir", str(self.folder), "--appendonly", "no"],
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
        wait_for("Redis", self.answers)

    def answers(self) -> bool:
        try:
            with socket.create_connection(("127.0.0.1", self.port), timeout=1) as line:
                line.sendall(b"PING\r\n")
                return line.recv(5) == b"+PONG"
        except OSError:
            return False

    def stop(self) -> None:
        self.process.kill()
        self.process.wait(timeout=PATIENCE_S)


@pytest.fixture
def redis(tmp_path):
    if not ON_REDIS:
        pytest.skip("no Redis is asked for; runs with REDIS_URL set")
    server = Redis(tmp_path)
    yield server
    server.stop()


@pytest.fixture
def book(databases, tmp_path, post, request):
    """On the profile that the environment asks for."""
    redis_url = request.getfixturevalue("redis").url if ON_REDIS else ""
    made = Book(tmp_path, databases.copy(tmp_path), post, redis_url)
    yield made
    made.close()
