"""The key of a restored book takes its place together with its database, or not at all.

A note says beside the key what it was, and which file the new database is. Whoever starts next and
finds such a note puts the old key back, unless that file is the database by now.
"""

import json
import os
from pathlib import Path

from registry.serving import in_use

NOTE, KEY = "restore-under-way.json", "secret-key"


def begin(folder: Path, new: str, staged: Path, target: Path) -> None:
    key = folder / KEY
    before = key.read_text() if key.exists() else None
    note = {"before": before, "inode": staged.stat().st_ino, "database": str(target)}
    _write(folder / NOTE, json.dumps(note))
    _write(key, new)


def end(folder: Path) -> None:
    (folder / NOTE).unlink(missing_ok=True)


def settle(folder: Path) -> None:
    """At each start. Whoever restores just now holds the folder alone and ends it himself."""
    if not (folder / NOTE).exists() or not in_use.take_alone(folder):
        return
    try:
        note = json.loads((folder / NOTE).read_text())
        database = Path(note["database"])
        is_new = database.exists() and database.stat().st_ino == note["inode"]
        if not is_new and note["before"] is not None:
            _write(folder / KEY, note["before"])
        end(folder)
    finally:
        in_use.give_free()


def _write(path: Path, text: str) -> None:
    draft = path.with_name(f".{path.name}-{os.getpid()}")
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    os.replace(draft, path)
