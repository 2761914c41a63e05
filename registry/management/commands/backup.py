"""Write the whole book into one file, while people work."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from registry.backup.making import NAME, back_up


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("--to", type=Path, help="File to write; else one in BACKUP_DIR.")

    def handle(self, *, to: Path | None, **options) -> None:
        now = timezone.now()
        target = to or Path(settings.BACKUP_DIR) / NAME.format(now)
        manifest = back_up(target, now)
        megabytes = target.stat().st_size / 1e6
        self.stdout.write(
            f"{target}: {manifest.records} records, {len(manifest.parts)} parts, "
            f"{megabytes:.1f} MB. It holds the key of the book: keep it as safe as the book."
        )
