"""Print the contributor guide with its list of kinds up to date; --write puts it in its place."""

from django.conf import settings
from django.core.management.base import BaseCommand

from registry.kinds.guide import with_kinds


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("--write", action="store_true", help="write DEVELOPERS.md")

    def handle(self, *, write: bool, **options) -> None:
        path = settings.BASE_DIR / "DEVELOPERS.md"
        guide = with_kinds(path.read_text(encoding="utf-8"))
        if write:
            path.write_text(guide, encoding="utf-8")
        else:
            self.stdout.write(guide, ending="")
