"""What a new version of the corrosion model changed, system by system and by how much."""

from dataclasses import dataclass
from statistics import mean, median
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.models import Max
from django.utils.translation import gettext

from registry.corrosion.assumptions import MODEL_VERSION
from registry.models import Assessment

MOST_SHOWN = 20
LEAST_POINTS = 0.05


@dataclass(frozen=True)
class Change:
    tag: str
    old: Assessment
    new: Assessment

    @property
    def points(self) -> float:
        return (self.new.score or 0.0) - (self.old.score or 0.0)

    @property
    def has_new_band(self) -> bool:
        return self.old.band != self.new.band


class Command(BaseCommand):
    help = (
        "Compare the last assessments by two versions of the model. Run `rescore` first, so that "
        "both versions saw the same systems; facts that changed in between move scores as well."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("old", nargs="?", help="the one before, unless given")
        parser.add_argument("new", nargs="?", default=MODEL_VERSION)

    def handle(self, *args: Any, **options: Any) -> None:
        new = options["new"]
        old = options["old"] or _before(new)
        changes = compare(old, new)
        if not changes:
            raise CommandError(
                gettext("No system was assessed by both {old} and {new}.").format(old=old, new=new)
            )
        self.stdout.write("\n".join(report(changes, old, new)))


def _before(new: str) -> str:
    others = Assessment.objects.exclude(model_version=new).order_by()
    last = others.values("model_version").annotate(at=Max("assessed_at")).order_by("-at").first()
    if last is None:
        raise CommandError(
            gettext("Every assessment in the book is by version {new}.").format(new=new)
        )
    return last["model_version"]


def compare(old: str, new: str) -> list[Change]:
    """Systems assessed by both versions, the largest change first."""
    before, after = _last_by(old), _last_by(new)
    both = [Change(after[pk].system.tag, before[pk], after[pk]) for pk in after if pk in before]
    return sorted(both, key=lambda change: -abs(change.points))


def _last_by(version: str) -> dict[int, Assessment]:
    rows = Assessment.objects.filter(model_version=version).select_related("system")
    return {row.system_id: row for row in rows.order_by("as_of", "pk")}


def report(changes: list[Change], old: str, new: str) -> list[str]:
    points = [change.points for change in changes]
    moved = [change for change in changes if abs(change.points) >= LEAST_POINTS]
    bands = [change for change in changes if change.has_new_band]
    lines = [
        f"Model {old} -> {new}: {len(changes)} systems, {len(moved)} moved, "
        f"{len(bands)} changed band.",
        f"Score points: mean {mean(points):+.2f}, median {median(points):+.2f}, "
        f"from {min(points):+.2f} to {max(points):+.2f}.",
    ]
    other_facts = sum(change.old.as_of != change.new.as_of for change in changes)
    if other_facts:
        lines.append(f"{other_facts} of the pairs are of different days.")
    return lines + [_line(change) for change in moved[:MOST_SHOWN]]


def _line(change: Change) -> str:
    old, new = change.old, change.new
    band = f"{old.band} -> {new.band}" if change.has_new_band else new.band
    scores = f"{old.score or 0:6.1f} -> {new.score or 0:6.1f}"
    return f"{change.tag:12} {scores} ({change.points:+.1f})  {band}"
