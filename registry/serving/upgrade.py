"""The database brought to this version of the program, after a backup where there is a book."""

from collections.abc import Callable

from django.core.management import call_command
from django.db import connection

from registry.serving.unready import pending_migrations


def migrate(say: Callable[[str], None]) -> None:
    missing = pending_migrations()
    if missing and "registry_organisation" in connection.introspection.table_names():
        say(f"This version changes the database ({missing} migrations). First a backup:")
        call_command("backup")
    call_command("migrate", verbosity=0)
