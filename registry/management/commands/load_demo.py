from django.core.management.base import BaseCommand
from django.utils import timezone

from registry.demo import load_demo


class Command(BaseCommand):
    help = "Load the invented demo portfolio, once; a second time changes nothing."

    def handle(self, *args, **options) -> None:
        if not load_demo(now=timezone.now(), say=self.stdout.write):
            self.stdout.write("The demo portfolio is loaded already.")
