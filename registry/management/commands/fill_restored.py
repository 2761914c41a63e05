"""A part of `restore`: fills and checks the staged database that DATABASE_URL names."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from registry.backup.archive import MANIFEST, BackupError, Manifest
from registry.backup.filling import fill


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("folder", type=Path)

    def handle(self, *, folder: Path, **options) -> None:
        manifest = Manifest.from_json((folder / MANIFEST).read_bytes())
        try:
            fill(folder, manifest)
        except BackupError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Checked: {manifest.records} records agree with their chains.")
