"""PostgreSQL, out and in: every table by COPY, of one snapshot, in the order of its columns."""

from collections.abc import Iterator
from pathlib import Path

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Model
from psycopg import sql

FOLDER = "tables"
MIGRATIONS = "django_migrations"
PASSING = ("django_session", "registry_cache", "usersessions_usersession")
"""Whoever is signed in signs in again after a restore."""


def tables() -> list[str]:
    """Of the models, and the list of migrations, which says what the columns are."""
    models = apps.get_models(include_auto_created=True)
    names = {model._meta.db_table for model in models if model._meta.managed}
    return sorted(names - set(PASSING)) + [MIGRATIONS]


def models() -> Iterator[type[Model]]:
    for model in apps.get_models(include_auto_created=True):
        if model._meta.managed and model._meta.db_table not in PASSING:
            yield model


def copy_out(folder: Path) -> int:
    """Returns how many records it holds."""
    (folder / FOLDER).mkdir()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        present = set(connection.introspection.table_names(cursor))
        for table in tables():
            if table in present:
                _copy_table_out(cursor, table, folder / FOLDER / table)
        cursor.execute("SELECT count(*) FROM registry_record")
        return int(cursor.fetchone()[0])


def _copy_table_out(cursor, table: str, path: Path) -> None:
    columns = _columns(cursor, table)
    question = sql.SQL("COPY {} ({}) TO STDOUT").format(
        sql.Identifier(table), sql.SQL(", ").join(map(sql.Identifier, columns))
    )
    with path.open("wb") as file:
        file.write("\t".join(columns).encode() + b"\n")
        with cursor.cursor.copy(question) as copy:
            for block in copy:
                file.write(block)


def _columns(cursor, table: str) -> list[str]:
    cursor.execute(
        "SELECT column_name FROM information_schema.columns WHERE table_schema = current_schema() "
        "AND table_name = %s ORDER BY ordinal_position",
        [table],
    )
    return [name for (name,) in cursor.fetchall()]


def copy_in(folder: Path) -> None:
    """Into tables that the same migrations have made; what these wrote themselves goes first."""
    files = sorted(path for path in (folder / FOLDER).iterdir() if path.name != MIGRATIONS)
    with transaction.atomic(), connection.cursor() as cursor:
        empty(cursor)
        for path in files:
            _copy_table_in(cursor, path)
        set_sequences(cursor)


def _copy_table_in(cursor, path: Path) -> None:
    with path.open("rb") as file:
        columns = file.readline().decode().rstrip("\n").split("\t")
        question = sql.SQL("COPY {} ({}) FROM STDIN").format(
            sql.Identifier(path.name), sql.SQL(", ").join(map(sql.Identifier, columns))
        )
        with cursor.cursor.copy(question) as copy:
            while block := file.read(1 << 20):
                copy.write(block)


def empty(cursor) -> None:
    present = sorted(set(connection.introspection.table_names(cursor)) - {MIGRATIONS})
    names = sql.SQL(", ").join(map(sql.Identifier, present))
    cursor.execute(sql.SQL("TRUNCATE {}").format(names).as_string(None))


def set_sequences(cursor) -> None:
    """The next row gets a number that none has."""
    present = set(connection.introspection.table_names(cursor))
    filled = [model for model in models() if model._meta.db_table in present]
    for statement in connection.ops.sequence_reset_sql(no_style(), filled):
        cursor.execute(statement)
