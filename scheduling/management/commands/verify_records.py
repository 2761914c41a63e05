"""Hold the whole book against its records."""

from argparse import ArgumentParser
from itertools import islice
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from registry.models import System
from registry.verifying import against_heads, differences, read_heads
from registry.verifying.against import HeadsError
from scheduling.recurring.attached import attachments_of

MOST = 20


class Command(BaseCommand):
    help = (
        "Check every chain, head, digest and derived row against the records. Exits with 1 and the "
        "first thing that differs. Reads only."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--owner", help="Only the systems of the owner of this name.")
        parser.add_argument(
            "--against",
            type=Path,
            metavar="HEADS",
            help="A list of heads kept from an earlier day: is the book a continuation of it?",
        )

    def handle(self, *args, **options) -> None:
        systems = System.objects.all()
        if options["owner"]:
            systems = systems.filter(site__owner__name=options["owner"])
            if not systems.exists():
                raise CommandError(f"No owner “{options['owner']}” has a system in this book.")
        counts: list[int] = []
        found = differences(systems, more=[attachments_of], on_system=counts.append)
        first = self._told(str(one) for one in found)
        if options["against"]:
            first = first or self._told(against_heads(self._heads(options["against"])))
        if first:
            raise CommandError(f"The book does not hold. First: {first}", returncode=1)
        self.stdout.write(f"{sum(counts)} records of {len(counts)} systems hold.")

    def _told(self, found) -> str:
        """Says what differs, up to a number, and returns the first of it."""
        shown = list(islice(found, MOST))
        for what in shown:
            self.stderr.write(what)
        return shown[0] if shown else ""

    def _heads(self, path: Path):
        try:
            with path.open(encoding="utf-8", newline="") as file:
                return read_heads(file)
        except (OSError, UnicodeDecodeError, HeadsError) as error:
            raise CommandError(f"{path}: {error}") from error
