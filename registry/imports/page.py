"""What the page of an import shows beside its form: the running total, drawn and in words."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from registry.models import ImportBatch

SQUARES = 96
ACROSS = 24
STEP, SIDE = 14, 11


@dataclass(frozen=True)
class Square:
    x: int
    y: int
    sort: str  # loads, waits, cannot


@dataclass(frozen=True)
class Line:
    """One reason why so many rows do what they do."""

    count: int
    words: str
    anchor: str = ""


class ImportPage:
    def __init__(self, batch: ImportBatch):
        self.batch, self.outcome = batch, batch.outcome

    @property
    def would_load(self) -> int:
        return int(self.outcome.get("new", 0))

    @property
    def waits(self) -> int:
        return int(self.outcome.get("waiting", 0))

    @property
    def cannot(self) -> int:
        return int(self.outcome.get("to_fix", 0)) - self.waits

    @property
    def rows(self) -> int:
        return int(self.outcome.get("rows", 0))

    @property
    def squares(self) -> list[Square]:
        """One square a row while there is room, else one for equally many rows."""
        there = int(self.outcome.get("known", 0)) + int(self.outcome.get("left_out", 0))
        counts = {"loads": self.would_load, "there": there, "waits": self.waits,
                  "cannot": max(0, self.cannot)}  # fmt: skip
        total = sum(counts.values())
        if not total:
            return []
        number = min(total, SQUARES)
        sorts: list[str] = []
        for sort, count in counts.items():
            share = round(count * number / total)
            sorts += [sort] * max(share, 1 if count else 0)
        return [
            Square(at % ACROSS * STEP, at // ACROSS * STEP, sort)
            for at, sort in enumerate(sorts[:SQUARES])
        ]

    @property
    def height(self) -> int:
        return (len(self.squares) + ACROSS - 1) // ACROSS * STEP or STEP

    @property
    def picture_words(self) -> str:
        return _("%(loads)s load, %(waits)s wait for an answer, %(cannot)s cannot load.") % {
            "loads": self.would_load,
            "waits": self.waits,
            "cannot": max(0, self.cannot),
        }

    @property
    def reasons(self) -> list[Line]:
        """What the rows that do not load wait for or lack, the most frequent first."""
        outcome, lines = self.outcome, []
        systems = int(outcome.get("systems_new", 0)) + int(outcome.get("systems_known", 0))
        if self.would_load:
            lines.append(
                Line(
                    self.would_load,
                    ngettext(
                        "loads, in %(systems)s system", "load, in %(systems)s systems", systems
                    )
                    % {"systems": f"{systems:,}"},
                )
            )
        if known := int(outcome.get("known", 0)):
            lines.append(Line(known, _("in the register already")))
        if left := int(outcome.get("left_out", 0)):
            lines.append(Line(left, _("left out, as you said")))
        for group in outcome.get("groups", [])[:6]:
            lines.append(Line(group["count"], f"{group['column']}: {group['wrong']}", "to-fix"))
        return lines

    @property
    def fits(self) -> dict[str, str]:
        """In words what each column of the file is to the book."""
        return {one["key"]: how_words(one) for one in self.outcome.get("fields", [])}


def how_words(field: dict[str, Any]) -> str:
    if field["how"] in ("known", "chosen"):
        return _("fits") if field["name"] else _("left out by you")
    if field["how"] == "taken":
        return str(field["why"])
    if field["how"] == "asked":
        return _("two meanings")
    if field["how"] == "not held":
        return _("not kept in the book")
    return str(field["why"]) or _("not known")
