"""Who uses the book's folder: everything that serves it shares a lock, a restore wants it alone."""

import fcntl
from pathlib import Path
from typing import IO

NAME = "in-use"
_held: list[IO[str]] = []
"""To the end of the process: the system takes a lock away with the file."""


def share(folder: Path) -> None:
    """Waits while the book is being restored."""
    _hold(folder, fcntl.LOCK_SH)


def take_alone(folder: Path) -> bool:
    """False while anybody serves the book."""
    try:
        _hold(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _hold(folder: Path, how: int) -> None:
    file = (folder / NAME).open("a")
    try:
        fcntl.flock(file, how)
    except OSError:
        file.close()
        raise
    _held.append(file)


def give_free() -> None:
    while _held:
        _held.pop().close()
