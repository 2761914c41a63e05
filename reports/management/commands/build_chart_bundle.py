"""Build the script that lets charts be read with a pointer. Run it before collectstatic."""

from django.core.management.base import BaseCommand

from reports import bundle


class Command(BaseCommand):
    help = __doc__

    def handle(self, *, verbosity: int, **options) -> None:
        was_built = bundle.build()
        if verbosity > 0:
            said = "Built" if was_built else "Up to date:"
            self.stdout.write(f"{said} {bundle.bundle_path()}")
