"""Number committed records in their owners' logs, and sign checkpoints."""

from django.core.management.base import BaseCommand
from django.utils import timezone

from registry.services.log import number_and_checkpoint


class Command(BaseCommand):
    help = "Put committed records into the log of each owner, and sign how far it reaches now."

    def handle(self, *args, **options) -> None:
        for owner, added, checkpoint in number_and_checkpoint(timezone.now()):
            self.stdout.write(f"{owner}: {added} records added, {checkpoint.size} in the log.")
