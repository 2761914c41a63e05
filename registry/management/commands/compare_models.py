"""What a new version of the corrosion model changed, system by system and by how much."""

from collections import Counter
from dataclasses import dataclass
from statistics import correlation, mean, median
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.models import Max
from django.utils.translation import gettext

from registry.corrosion.assumptions import MODEL_VERSION
from registry.models import Assessment

MOST_SHOWN = 20
FIRST = 10
REASONS = 3
LEAST_POINTS = 0.05
SAME_BAND = {"low": "leave", "moderate": "watch", "high": "plan", "severe": "act"}
"""Words of models before 2.0, by the same numbers on the probability in place of the score."""


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
        """A word that is another one by now too, and not merely spelt as the old version did."""
        return SAME_BAND.get(self.old.band, self.old.band) != self.new.band


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
    lines += [_line(change) for change in moved[:MOST_SHOWN]]
    if bands:
        lines += ["", "Another word for what to do:", *map(_line, bands)]
    return [*lines, "", *spread_lines(changes, old, new), "", *first_lines(changes, old, new)]


def spread_lines(changes: list[Change], old: str, new: str) -> list[str]:
    """How well each version tells systems apart, and how far they agree on the order."""
    head = f"{'scores':10} {'10 %':>6} {'median':>7} {'90 %':>6} {'least':>6} {'most':>6}  tied"
    return [
        head,
        _spread(f"by {old}", [change.old.score or 0.0 for change in changes]),
        _spread(f"by {new}", [change.new.score or 0.0 for change in changes]),
        f"Rank correlation of the two orders: {_rank_correlation(changes):.2f}.",
    ]


def _spread(name: str, scores: list[float]) -> str:
    """Tied: systems that share their score, as printed, with another."""
    printed = Counter(f"{score:.1f}" for score in scores)
    tied = sum(count for count in printed.values() if count > 1)
    low, middle, high = (_quantile(scores, part) for part in (0.1, 0.5, 0.9))
    return (
        f"{name:10} {low:6.1f} {middle:7.1f} {high:6.1f} {min(scores):6.1f} {max(scores):6.1f}  "
        f"{tied} of {len(scores)}"
    )


def _quantile(values: list[float], part: float) -> float:
    ordered = sorted(values)
    at = part * (len(ordered) - 1)
    low, high = ordered[int(at)], ordered[min(int(at) + 1, len(ordered) - 1)]
    return low + (at - int(at)) * (high - low)


def _rank_correlation(changes: list[Change]) -> float:
    """Spearman's, with the mean rank where scores are tied; 1 for fewer than two systems."""
    old, new = (
        _mean_ranks([getattr(change, side).score or 0.0 for change in changes])
        for side in ("old", "new")
    )
    if len(set(old)) < 2 or len(set(new)) < 2:
        return 1.0
    return correlation(old, new)


def _mean_ranks(values: list[float]) -> list[float]:
    ordered = sorted(values)
    first = {value: ordered.index(value) for value in set(values)}
    count = Counter(values)
    return [first[value] + (count[value] + 1) / 2 for value in values]


def first_lines(changes: list[Change], old: str, new: str) -> list[str]:
    """Each of the first ten by either version: its place by both, and what its score is made of."""
    by_old = sorted(changes, key=lambda change: -(change.old.score or 0.0))
    by_new = sorted(changes, key=lambda change: -(change.new.score or 0.0))
    place = {change.tag: (at, by_new.index(change) + 1) for at, change in enumerate(by_old, 1)}
    shown = by_new[:FIRST] + [one for one in by_old[:FIRST] if one not in by_new[:FIRST]]
    lines = [f"The first {FIRST} by either version, in the order of {new}, with their reasons:"]
    for change in shown:
        was, now = place[change.tag]
        lines.append(
            f"{change.tag:12} place {was:3} -> {now:3}   {change.old.score or 0:5.1f} -> "
            f"{change.new.score or 0:5.1f}"
        )
        lines += [
            f"    {version:5} {_reasons(row)}"
            for version, row in ((old, change.old), (new, change.new))
        ]
    return lines


def _reasons(row: Assessment) -> str:
    """The largest, either way; reasons of models before 2.0 are no shares and do not add up."""
    largest = sorted(row.reasons, key=lambda one: -abs(one.get("points") or 0.0))
    said = [f"{one['points']:+.1f} {one['text'].lower()}" for one in largest[:REASONS]]
    by = row.evidence.get("leak_in_5_yr_by")
    if by:
        split = ", ".join(f"{name.replace('_', ' ')} {100 * abs(by[name]):.0f} %" for name in by)
        said.append(f"by {split}")
    return "; ".join(said) or "no reasons stored"


def _line(change: Change) -> str:
    old, new = change.old, change.new
    band = f"{old.band} -> {new.band}" if change.has_new_band else new.band
    scores = f"{old.score or 0:6.1f} -> {new.score or 0:6.1f}"
    return f"{change.tag:12} {scores} ({change.points:+.1f})  {band}"
