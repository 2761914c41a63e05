from django.core.management.base import BaseCommand
from django.utils import timezone

from scheduling.jobs.sweep import sweep
from scheduling.recurring.replanning import plan_asked


class Command(BaseCommand):
    help = (
        "Raise and close the follow-ups that a failure or the passing of time has left behind, and "
        "plan the recurring work that a change of a library is waiting for."
    )

    def handle(self, *args, **options) -> None:
        self.stdout.write(f"Swept: {sweep(timezone.now())}.")
        self.stdout.write(f"Recurring work planned again at {plan_asked(timezone.now)} systems.")
