"""Number committed records in their owners' logs, and sign checkpoints."""

from django.core.management.base import BaseCommand
from django.utils import timezone

from registry.models import Organisation
from registry.services.log import BATCH, make_checkpoint, number_records


class Command(BaseCommand):
    help = "Put committed records into the log of each owner, and sign how far it reaches now."

    def handle(self, *args, **options) -> None:
        owners = Organisation.objects.filter(sites__systems__isnull=False).distinct()
        for owner in owners.order_by("pk"):
            now, added = timezone.now(), 0
            while count := number_records(owner, now=now):
                added += count
                if count < BATCH:
                    break
            checkpoint = make_checkpoint(owner, now=now)
            self.stdout.write(f"{owner}: {added} records added, {checkpoint.size} in the log.")
