"""One process of a run migrates a database, which takes seconds; the others begin with a copy."""

import fcntl
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection


class Migrated:
    """The copy, known by a file in a folder that the processes of one run share."""

    def __init__(self, folder: Path):
        self.copy = folder / "migrated"  # SQLite: the database; PostgreSQL: its name
        self.users = folder / "migrated.users"
        self.lock = folder / "migrated.lock"
        self.create = connection.creation.create_test_db

    def create_test_db(self, **how) -> str:
        """In Django's place: after a copy there is nothing left to migrate."""
        with self._alone():
            is_there = self.copy.exists()
            if is_there:
                how |= self._begin_with_copy()
            name = self.create(**how)
            if not is_there:
                self._make_copy()
            self._count(1)
        return name

    def leave(self) -> None:
        """The last takes the copy away; whoever comes later migrates again."""
        with self._alone():
            if self._count(-1) == 0:
                self._drop_copy()

    def _begin_with_copy(self) -> dict[str, bool]:
        test = connection.settings_dict["TEST"]
        if connection.vendor == "sqlite":
            shutil.copy(self.copy, test["NAME"])
            return {"keepdb": True}
        test["TEMPLATE"] = self.copy.read_text()
        return {}

    def _make_copy(self) -> None:
        if connection.vendor == "sqlite":
            connection.cursor().execute("VACUUM INTO %s", [str(self.copy)])
        else:
            creation = connection.creation
            creation.clone_test_db("migrated", verbosity=0, autoclobber=True)
            self.copy.write_text(creation.get_test_db_clone_settings("migrated")["NAME"])

    def _drop_copy(self) -> None:
        if connection.vendor != "sqlite":
            with connection._nodb_cursor() as cursor:
                name = connection.ops.quote_name(self.copy.read_text())
                cursor.execute(f"DROP DATABASE IF EXISTS {name}")
        self.copy.unlink()

    def _count(self, more: int) -> int:
        users = int(self.users.read_text()) if self.users.exists() else 0
        self.users.write_text(str(users + more))
        return users + more

    @contextmanager
    def _alone(self) -> Iterator[None]:
        with self.lock.open("w") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            yield
