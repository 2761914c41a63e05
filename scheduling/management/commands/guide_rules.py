"""The guide's table of rules, made from the rules themselves."""

from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand

from scheduling.rules import RULES

GUIDE = Path(settings.BASE_DIR) / "DEVELOPERS.md"
BEGIN, END = "<!-- rules: written by manage.py guide_rules --write -->", "<!-- /rules -->"


def rule_lines() -> Iterator[str]:
    yield "| rule | what it says | waits for |"
    yield "| --- | --- | --- |"
    for rule in RULES:
        yield f"| `{rule.code}` | {rule.says} | {rule.waits_for} |"


def with_rules(guide: str) -> str:
    """The guide with its table as the rules now are."""
    before, _, rest = guide.partition(BEGIN)
    after = rest.partition(END)[2]
    return "\n".join([before + BEGIN, *rule_lines(), END]) + after


class Command(BaseCommand):
    help = "Print the guide's table of rules, or write it into DEVELOPERS.md."

    def add_arguments(self, parser):
        parser.add_argument("--write", action="store_true", help="write it into DEVELOPERS.md")

    def handle(self, *args, write=False, **options):
        if not write:
            self.stdout.write("\n".join(rule_lines()))
            return
        GUIDE.write_text(with_rules(GUIDE.read_text(encoding="utf-8")), encoding="utf-8")
        self.stdout.write(f"Written into {GUIDE.name}.")
