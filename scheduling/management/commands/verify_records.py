"""Hold the whole book against its records."""

from argparse import ArgumentParser
from collections.abc import Iterable, Iterator
from itertools import chain, islice
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.db.models import QuerySet
from django.utils.translation import gettext

from registry.models import Organisation, OwnerLog, System
from registry.proof.notes import DASH, NoteError
from registry.verifying import (
    against_checkpoint,
    against_heads,
    differences,
    log_differences,
    read_heads,
)
from registry.verifying.against import HeadsError
from registry.verifying.owner import check_owner
from scheduling.verifying import NIGHTLY
from scheduling.verifying.derived import waiting

MOST = 20


class Command(BaseCommand):
    help = (
        "Check every chain, head, digest, derived row and log against the records. Exits with 1 "
        "and the first thing that differs. Reads only."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--owner", help="Only the systems and the log of the owner so named.")
        parser.add_argument(
            "--against",
            type=Path,
            metavar="FILE",
            help="A checkpoint or a list of heads kept from an earlier day: does the book go on "
            "from it?",
        )

    def handle(self, *args, **options) -> None:
        systems, logs = System.objects.all(), OwnerLog.objects.all()
        if options["owner"]:
            systems = systems.filter(site__owner__name=options["owner"])
            logs = logs.filter(owner__name=options["owner"])
            if not systems.exists():
                raise CommandError(
                    gettext("No owner “{owner}” has a system in this book.").format(
                        owner=options["owner"]
                    )
                )
        counts: list[int] = []
        first = self._told(
            chain(
                map(
                    str,
                    differences(systems, more=NIGHTLY, on_system=counts.append),
                ),
                log_differences(logs),
                _of_owners(systems),
                _against(options["against"]) if options["against"] else (),
            )
        )
        if first:
            raise CommandError(
                gettext("The book does not hold. First: {first}").format(first=first), returncode=1
            )
        self.stdout.write(f"{sum(counts)} records of {len(counts)} systems hold.")
        if count := waiting(systems).count():
            self.stdout.write(
                f"{count} of them wait for the worker to derive their atmosphere and protection "
                "again: these two were not checked."
            )

    def _told(self, found: Iterable[str]) -> str:
        """Says what differs, up to a number, and returns the first of it."""
        shown = list(islice(found, MOST))
        for what in shown:
            self.stderr.write(what)
        return shown[0] if shown else ""


def _of_owners(systems: QuerySet[System]) -> Iterator[str]:
    owners = Organisation.objects.filter(sites__systems__in=systems).distinct().order_by("pk")
    for owner in owners:
        yield from (f"{owner}: {what}" for what in check_owner(owner))


def _against(path: Path) -> Iterator[str]:
    try:
        text = path.read_text(encoding="utf-8")
        is_note = f"\n\n{DASH}" in text
        yield from (
            against_checkpoint(text) if is_note else against_heads(read_heads(text.splitlines()))
        )
    except (OSError, UnicodeDecodeError, HeadsError, NoteError) as error:
        raise CommandError(f"{path}: {error}", returncode=2) from error
