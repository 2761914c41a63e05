"""The corrosion model against numbers from outside: one table, misses shown as misses."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from registry.corrosion.outside import examples
from registry.corrosion.practice import claims

HEAD = ("What", "Model", "Source says", "Difference", "", "Source")


class Command(BaseCommand):
    help = (
        "Print what the model gives, what the source says and the difference, for every published "
        "example and for what practice tells. A miss is printed as a miss."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--misses", action="store_true", help="only what does not agree")

    def handle(self, *args: Any, **options: Any) -> None:
        rows = [*_examples(), *_claims()]
        shown = [row for row in rows if row[4] == "miss" or not options["misses"]]
        self.stdout.write(_line(HEAD))
        self.stdout.write(_line(["---"] * len(HEAD)))
        for row in shown:
            self.stdout.write(_line(row))
        missed = sum(row[4] == "miss" for row in rows)
        self.stdout.write(f"\n{len(rows)} checks, {missed} missed.")


def _examples() -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for one in examples():
        answer = one.answer()
        rows.append(
            (
                one.id,
                f"{answer:.5g} {one.unit}",
                f"{one.expected:g} {one.unit}",
                f"{answer - one.expected:+.2g}",
                "agrees" if one.agrees(answer) else "miss",
                f"{one.source} ({one.how_known})",
            )
        )
    return rows


def _claims() -> list[tuple[str, ...]]:
    return [
        (
            one.text,
            f"{one.answer:.3g} {one.unit}",
            f"{one.low:g} to {one.high:g} {one.unit}",
            one.off,
            "agrees" if one.agrees else "miss",
            one.source,
        )
        for one in claims()
    ]


def _line(cells: Any) -> str:
    return "| " + " | ".join(cells) + " |"
