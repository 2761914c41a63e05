"""Put the book of a backup in the place of this one, after it was checked. From SQLite to
PostgreSQL: back up, set DATABASE_URL to the new database, restore."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from registry.backup.archive import BackupError
from registry.backup.restoring import restore


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *, file: Path, **options) -> None:
        try:
            restore(file.resolve(), self._say)
        except BackupError as error:
            raise CommandError(str(error)) from error

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
