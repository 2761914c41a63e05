"""A backup names its migrations as the program of its day did."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from registry.backup.archive import BackupError
from registry.backup.filling import _of_today, migrate_to

BOOK = ("registry", "0001_book")


@pytest.fixture
def executor(db):
    return MigrationExecutor(connection)


@pytest.fixture
def replaced(executor):
    return set(executor.loader.replacements[BOOK].replaces)


@pytest.mark.parametrize("also", [set(), {BOOK}])
def test_all_steps_of_before_are_the_one_that_replaces_them(executor, replaced, also):
    assert len(replaced) > 10
    assert _of_today(executor, replaced | also) == {BOOK}


def test_a_book_between_the_steps_is_refused_by_name(db, replaced):
    some = sorted(replaced)[:3]
    with pytest.raises(BackupError, match="another version .*registry.0001_initial"):
        migrate_to([list(key) for key in some])
