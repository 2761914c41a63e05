"""Rows of an SQLite book into the tables of PostgreSQL: every value as it stands, none worked out
anew, all in one transaction whose constraints are looked at before it ends."""

from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from django.db import connection, connections, transaction
from django.db.models import Model
from django.db.models.sql import InsertQuery

from registry.backup import copying

SOURCE = "sqlite-backup"
AT_ONCE = 500


def move_in(path: Path) -> None:
    _open(path)
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            copying.empty(cursor)
            for model in copying.models():
                for rows in _chunks(model):
                    _insert(model, rows)
            copying.set_sequences(cursor)
    finally:
        connections[SOURCE].close()
        del connections[SOURCE]
        del connections.databases[SOURCE]


def _open(path: Path) -> None:
    template = connections.databases["default"]
    connections.databases[SOURCE] = {
        **template, "ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "OPTIONS": {},
        "CONN_MAX_AGE": 0, "CONN_HEALTH_CHECKS": False,
    }  # fmt: skip


def _chunks(model: type[Model]) -> Iterator[list[Model]]:
    rows = model._base_manager.using(SOURCE).order_by("pk").iterator(chunk_size=AT_ONCE)
    while chunk := list(islice(rows, AT_ONCE)):
        yield chunk


def _insert(model: type[Model], rows: list[Model]) -> None:
    """Raw: a field that sets itself when a row is saved keeps what it held."""
    query = InsertQuery(model)
    query.insert_values(model._meta.local_concrete_fields, rows, raw=True)
    query.get_compiler(using="default").execute_sql()
