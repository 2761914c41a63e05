"""What to do about a database that is not there, or not up to date, in place of a traceback."""

from django.db import DatabaseError, OperationalError, connection
from django.db.migrations.executor import MigrationExecutor


def unready(error: DatabaseError) -> str | None:
    """None when the database is in order, and the error one of ours."""
    try:
        missing = pending_migrations()
    except DatabaseError:
        said = str(error).strip().splitlines()[0]
        return (
            f"The database cannot be reached: {said}\n"
            "DATABASE_URL says where it is; start the server, or correct the address."
        )
    if missing:
        return (
            f"The database is not up to date: {missing} migrations have not run. First run:\n"
            "    python manage.py migrate\n"
            "`make start` does so by itself, after a backup."
        )
    if isinstance(error, OperationalError) and "full" in str(error):
        return f"The disk is full ({error}). Nothing was changed; make room and run this again."
    return None


def pending_migrations() -> int:
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def applied_migrations() -> list[list[str]]:
    return sorted([list(key) for key in MigrationExecutor(connection).loader.applied_migrations])
