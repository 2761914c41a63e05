"""Restoring: filled and checked beside the book, and then put in its place by one step that is
either done or not. Killed at any moment before it, everything is as it was."""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

from django.conf import settings
from django.db import connection, connections, transaction
from psycopg import sql

from registry.backup import key
from registry.backup.archive import BackupError, Manifest, unpack
from registry.backup.making import DATABASE, FILES, KEY
from registry.serving import in_use

STAGED, REPLACED = "riserbook_restoring", "riserbook_replaced"
FILL = "fill_restored"
Say = Callable[[str], None]


def restore(path: Path, say: Say) -> Manifest:
    folder = Path(settings.VAR_DIR)
    if not in_use.take_alone(folder):
        raise BackupError("The book is being served. Stop the web server and the worker first.")
    try:
        return _restore(path, say)
    finally:
        in_use.give_free()


def _restore(path: Path, say: Say) -> Manifest:
    beside = _database_file().parent if connection.vendor == "sqlite" else Path(settings.VAR_DIR)
    for left in beside.glob(".restoring-*"):  # of one that was killed
        shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix=".restoring-", dir=beside) as name:
        staging = Path(name)
        manifest = unpack(path, staging)
        say(f"{path} is whole: {manifest.records} records, made {manifest.made_at}.")
        if connection.vendor == "sqlite":
            _into_sqlite(staging, manifest, say)
        else:
            _into_postgresql(staging, manifest, say)
    return manifest


# SQLite: one file takes the place of another.


def _into_sqlite(staging: Path, manifest: Manifest, say: Say) -> None:
    if manifest.engine != "sqlite":
        raise BackupError(
            "This backup is of PostgreSQL; set DATABASE_URL to a PostgreSQL database. The way from "
            "there to SQLite is not offered."
        )
    staged, target = staging / DATABASE, _database_file()
    place_files(staging / FILES)  # before the check, which reads them; nothing is replaced by it
    _fill(staging, f"sqlite:///{staged}", say)
    _fold(staged)
    connections.close_all()
    if target.exists():
        _fold(target)
    if (staging / KEY).exists():
        key.begin(Path(settings.VAR_DIR), (staging / KEY).read_text(), staged, target)
    os.replace(staged, target)
    key.end(Path(settings.VAR_DIR))
    say("The restored book is in place.")


def _database_file() -> Path:
    return Path(settings.DATABASES["default"]["NAME"])


def _fold(path: Path) -> None:
    """Without a journal beside it: what it says stands in the file, on the disk."""
    line = sqlite3.connect(path)
    line.execute("PRAGMA journal_mode=DELETE")
    line.close()
    with path.open("rb") as file:
        os.fsync(file.fileno())


# PostgreSQL: one schema takes the place of another.


def _into_postgresql(staging: Path, manifest: Manifest, say: Say) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_schema()")
        schema = cursor.fetchone()[0]
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
            "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
        )
        if others := cursor.fetchone()[0]:
            raise BackupError(
                f"{others} other connections use this database. Stop the web servers and workers."
            )
        for name in (STAGED, REPLACED):  # of one that was killed
            cursor.execute(_statement("DROP SCHEMA IF EXISTS {} CASCADE", name))
        cursor.execute(_statement("CREATE SCHEMA {}", STAGED))
    if manifest.engine == "sqlite":
        _run(f"sqlite:///{staging / DATABASE}", staging, "migrate", "--verbosity", "0")
    place_files(staging / FILES)
    _fill(staging, _address_of(STAGED), say)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(_statement("ALTER SCHEMA {} RENAME TO {}", schema, REPLACED))
        cursor.execute(_statement("ALTER SCHEMA {} RENAME TO {}", STAGED, schema))
    if (staging / KEY).exists():
        shutil.copyfile(staging / KEY, Path(settings.VAR_DIR) / KEY)
    say("The restored book is in place.")
    with connection.cursor() as cursor:
        cursor.execute(_statement("DROP SCHEMA {} CASCADE", REPLACED))


def _statement(text: str, *names: str) -> str:
    return sql.SQL(text).format(*map(sql.Identifier, names)).as_string(None)


def _address_of(schema: str) -> str:
    """Of the same database, seen through another schema."""
    facts = settings.DATABASES["default"]
    person = quote(facts["USER"] or "", safe="")
    if facts.get("PASSWORD"):
        person += f":{quote(facts['PASSWORD'], safe='')}"
    host, port = quote(facts["HOST"] or "", safe=""), facts["PORT"]
    options = quote(f"-c search_path={schema}", safe="")
    place = f"{host}:{port}" if port else host
    return f"postgres://{person}@{place}/{facts['NAME']}?options={options}"


def _fill(staging: Path, database_url: str, say: Say) -> None:
    said = _run(database_url, staging, FILL, str(staging))
    say(said.strip())


def _run(database_url: str, staging: Path, *command: str) -> str:
    """In a process whose database is the staged one."""
    env = os.environ | {"DATABASE_URL": database_url, "LOG_LEVEL": "WARNING"}
    env["RISERBOOK_VAR_DIR"] = str(settings.VAR_DIR)
    if (staging / KEY).exists() and "SECRET_KEY" not in os.environ:
        env["SECRET_KEY"] = (staging / KEY).read_text().strip()
    done = subprocess.run(
        [sys.executable, str(settings.BASE_DIR / "manage.py"), *command],
        env=env, cwd=settings.BASE_DIR, text=True, capture_output=True,
    )  # fmt: skip
    if done.returncode:
        raise BackupError(
            f"The backup was not restored, and the book is as it was:\n{done.stdout}{done.stderr}"
        )
    return done.stdout


def place_files(folder: Path) -> None:
    """Beside those that are there: their names are never used again, so none takes the place of
    another, and files that the old book names stay."""
    root = Path(settings.MEDIA_ROOT)
    for path in sorted(folder.rglob("*")) if folder.is_dir() else []:
        target = root / path.relative_to(folder)
        if path.is_file() and not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            draft = target.with_name(f".{target.name}-{os.getpid()}")
            shutil.copyfile(path, draft)
            os.replace(draft, target)
