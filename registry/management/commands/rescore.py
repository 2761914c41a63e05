"""Bring the stored assessments up to date, as the nightly run does."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone
from tqdm import tqdm

from registry.models import System
from registry.services.assessments import Which, assess_systems


class Command(BaseCommand):
    help = (
        "Assess the systems that were not assessed today, by another version of the model, or "
        "before something about them changed. Assessments that are replaced stay in the book."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--all", action="store_true", help="assess every system again")

    def handle(self, *args: Any, **options: Any) -> None:
        systems = System.objects.all()
        which = Which.ALL if options["all"] else Which.DUE
        with tqdm(total=systems.count(), unit=" systems", disable=None) as bar:
            tally = assess_systems(systems, timezone.now(), which=which, on_chunk=bar.update)
        self.stdout.write(
            f"Assessments: {tally.added} added, {tally.refreshed} refreshed, "
            f"{tally.unchanged} unchanged, {tally.left_out} left out (no pipe in the register)."
        )
