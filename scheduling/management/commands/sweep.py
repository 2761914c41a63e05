from django.core.management.base import BaseCommand
from django.utils import timezone

from scheduling.sweeping import sweep


class Command(BaseCommand):
    help = "Raise and close the follow-ups that a failure or the passing of time has left behind."

    def handle(self, *args, **options) -> None:
        self.stdout.write(f"Swept: {sweep(timezone.now())}.")
