from django.core.management.base import BaseCommand

from registry.jobs.worker import AT_ONCE, work_until_stopped


class Command(BaseCommand):
    help = "The worker of the embedded default: claims jobs from the database until it is stopped."

    def add_arguments(self, parser) -> None:
        parser.add_argument(
            "--at-once", type=int, default=AT_ONCE, help="How many jobs run side by side."
        )

    def handle(self, *, at_once: int, **options) -> None:
        work_until_stopped(at_once=at_once)
