"""Making a backup, while people work."""

import shutil
import sqlite3
import tempfile
import time
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connection

from registry.backup import copying
from registry.backup.archive import Manifest, Writer
from registry.models import Record
from registry.serving.unready import applied_migrations

DATABASE, TABLES, FILES, KEY = "database.sqlite3", "tables", "files", "secret-key"
HALF_WRITTEN_S = 86_400
NAME = "riserbook-{:%Y%m%d-%H%M%S}.tar"


def back_up(target: Path, now: datetime) -> Manifest:
    """The database first, as it stands at one instant; then the files, which are written before the
    rows that name them and never change."""
    Record.objects.exists()  # a database without tables is told so, and no file begun
    target.parent.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory(prefix=".backup-", dir=target.parent) as name,
        Writer(target) as writer,
    ):
        folder = Path(name)
        records = _sqlite(folder) if connection.vendor == "sqlite" else copying.copy_out(folder)
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                writer.add(path.relative_to(folder).as_posix(), path)
        _add_files(writer)
        manifest = Manifest(
            made_at=now.isoformat(),
            engine=connection.vendor,
            migrations=applied_migrations(),
            records=records,
            parts=writer.parts,
        )
        writer.end(manifest)
    return manifest


def _sqlite(folder: Path) -> int:
    """By SQLite's own backup, which waits for nobody and sees what a copy of the file would miss:
    what stands in the journal beside it. Asked for in one step, it is of one instant."""
    copy = folder / DATABASE
    with sqlite3.connect(copy) as to:
        connection.ensure_connection()
        connection.connection.backup(to, pages=-1)
        to.execute("PRAGMA journal_mode=DELETE")
        (records,) = to.execute("SELECT count(*) FROM registry_record").fetchone()
    to.close()
    return int(records)


def _add_files(writer: Writer) -> None:
    root = Path(settings.MEDIA_ROOT)
    for path in sorted(root.rglob("*")) if root.is_dir() else []:
        if path.is_file():
            try:
                writer.add(f"{FILES}/{path.relative_to(root).as_posix()}", path)
            except FileNotFoundError:
                continue  # an import's draft that was replaced meanwhile
    key = settings.VAR_DIR / KEY
    if key.is_file():
        writer.add(KEY, key)


def keep_latest(folder: Path, most: int) -> int:
    """How many went. What a killed backup left half-written goes too, once nobody can be at it."""
    for left in (*folder.glob(".backup-*"), *folder.glob(".riserbook-*.tar-*")):
        if time.time() - left.stat().st_mtime > HALF_WRITTEN_S:
            shutil.rmtree(left) if left.is_dir() else left.unlink(missing_ok=True)
    gone = sorted(folder.glob("riserbook-*.tar"))[:-most] if most else []
    for path in gone:
        path.unlink(missing_ok=True)
    return len(gone)
