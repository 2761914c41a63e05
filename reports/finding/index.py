"""The words that can be searched, kept in step by the database itself.

PostgreSQL: an index of each table's own text (`to_tsvector`), part of the row's transaction as any
index is. SQLite: an FTS5 table beside each, written by triggers in the same transaction. Neither
knows a table that a migration of another app rebuilds, so `prepare` looks after every `migrate`
and fills again what it finds without its triggers.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import QuerySet
from django.db.models.expressions import RawSQL

MOST_WORDS = 8
LONGEST_WORD = 40
WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Source:
    """A table, and which of its columns are searched."""

    table: str
    columns: tuple[str, ...]

    @property
    def found_in(self) -> str:
        return f"find_{self.table}"

    def text(self, row: str = "") -> str:
        """SQL of the text of a row, `row` being a prefix such as `new.`."""
        return " || ' ' || ".join(f"coalesce({row}{name}, '')" for name in self.columns)


SYSTEMS = Source("registry_system", ("tag",))
SITES = Source("registry_site", ("name", "address"))
BUILDINGS = Source("registry_building", ("name",))
PEOPLE = Source("registry_user", ("name",))
ORDERS = Source("scheduling_task", ("title", "why"))
REMARKS = Source("registry_record", ("note",))
SOURCES = (SYSTEMS, SITES, BUILDINGS, PEOPLE, ORDERS, REMARKS)


def words_of(text: str) -> list[str]:
    """What is looked for: each word by its beginning, however it is written."""
    found = (word.lower()[:LONGEST_WORD] for word in WORD.findall(text))
    return list(dict.fromkeys(found))[:MOST_WORDS]


def having(rows: QuerySet, source: Source, words: Sequence[str]) -> QuerySet:
    """Rows whose text has every word, or a word that begins so."""
    return rows.filter(pk__in=keys(source, words))


def keys(source: Source, words: Sequence[str]) -> RawSQL:
    """The keys of rows with every word, as a subquery."""
    if connection.vendor == "postgresql":
        asked = " & ".join(f"{word}:*" for word in words)
        # Tables and columns are our own words; what was typed is a parameter.
        where = f"{_vector(source)} @@ to_tsquery('simple', %s)"
        sql = f"SELECT id FROM {source.table} WHERE {where}"  # nosec B608
        return RawSQL(sql, [asked])  # nosec B611
    asked = " ".join(f'"{word}"*' for word in words)
    sql = f"SELECT rowid FROM {source.found_in} WHERE {source.found_in} MATCH %s"  # nosec B608
    return RawSQL(sql, [asked])  # nosec B611


def _vector(source: Source) -> str:
    """Signs between words part them: a tag such as MAR-1 is two words, as in SQLite."""
    plain = f"regexp_replace({source.text()}, '[^[:alnum:]]+', ' ', 'g')"
    return f"to_tsvector('simple', {plain})"


def prepare(**_: Any) -> None:
    """After `migrate`: make what is missing. Running it again changes nothing."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for source in SOURCES:
                cursor.execute(
                    f"CREATE INDEX IF NOT EXISTS {source.found_in} ON {source.table} "
                    f"USING gin ({_vector(source)})"
                )
        elif connection.vendor == "sqlite":
            for source in SOURCES:
                _prepare_sqlite(cursor, source)


def _prepare_sqlite(cursor: Any, source: Source) -> None:
    name, table = source.found_in, source.table
    cursor.execute(f"CREATE VIRTUAL TABLE IF NOT EXISTS {name} USING fts5(words, prefix = '2 3')")
    cursor.execute(
        "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s",
        [f"{name}_%"],
    )
    if cursor.fetchone()[0] == len(TRIGGERS):
        return
    for event, what in TRIGGERS.items():
        of_columns = f" OF {', '.join(source.columns)}" if event == "UPDATE" else ""
        cursor.execute(f"DROP TRIGGER IF EXISTS {name}_{event.lower()}")
        body = what.format(name=name, text=source.text("new."))
        cursor.execute(
            f"CREATE TRIGGER {name}_{event.lower()} AFTER {event}{of_columns} ON {table} "
            f"BEGIN {body}; END"
        )
    cursor.execute(f"DELETE FROM {name}")  # nosec B608
    rows = f"SELECT id, {source.text()} FROM {table}"  # nosec B608
    cursor.execute(f"INSERT INTO {name}(rowid, words) {rows}")


TRIGGERS = {
    "INSERT": "INSERT INTO {name}(rowid, words) VALUES (new.id, {text})",
    "UPDATE": "UPDATE {name} SET words = {text} WHERE rowid = old.id",
    "DELETE": "DELETE FROM {name} WHERE rowid = old.id",
}
