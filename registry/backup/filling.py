"""The staged database of a restore is filled, brought to this version, and checked."""

from pathlib import Path

from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from registry.backup import copying, moving
from registry.backup.archive import BackupError, Manifest
from registry.backup.checking import check
from registry.backup.making import DATABASE
from registry.services.log_handing import begin_epochs


def fill(folder: Path, manifest: Manifest) -> None:
    if connection.vendor == "sqlite":
        _look_whole()
        call_command("migrate", verbosity=0)
    elif manifest.engine == "sqlite":
        call_command("migrate", verbosity=0)
        moving.move_in(folder / DATABASE)
    else:
        migrate_to(manifest.migrations)
        copying.copy_in(folder)
        call_command("migrate", verbosity=0)
    check(manifest.records)
    begin_epochs(timezone.now())


def _look_whole() -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        found = cursor.fetchone()[0]
    if found != "ok":
        raise BackupError(f"SQLite finds the database damaged: {found}")


def migrate_to(applied: list[list[str]]) -> None:
    """The tables as they were when the backup was made."""
    executor = MigrationExecutor(connection)
    keys = _of_today(executor, {(app, name) for app, name in applied})
    if unknown := keys - set(executor.loader.graph.nodes):
        names = ", ".join(sorted(f"{app}.{name}" for app, name in unknown)[:3])
        raise BackupError(f"The backup is of another version of the program ({names}).")
    executor.migrate([key for key in sorted(keys) if not _next_of(executor, key) & keys])


def _of_today(executor: MigrationExecutor, keys: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """`keys` with steps that one migration replaces named as that one, where all were made."""
    for key, migration in executor.loader.replacements.items():
        replaced = set(migration.replaces)
        if replaced <= keys:
            keys = keys - replaced | {key}
    return keys


def _next_of(executor: MigrationExecutor, key: tuple[str, str]) -> set[tuple[str, str]]:
    children = executor.loader.graph.node_map[key].children
    return {child.key for child in children if child.key[0] == key[0]}
