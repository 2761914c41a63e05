"""Consequence against likelihood, five by five, in the manner of ISO 31000 and IEC 31010."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count, F

from registry.corrosion.inputs import CONSEQUENCE_MULTIPLIER
from registry.corrosion.score import BAND_EDGES, BANDS, LIKELIHOOD_EDGES, hazard_of, score_of
from registry.models import Assessment, User
from reports.risk.assumptions import consequence_words, likelihood_words

LEVELS = (1, 2, 3, 4, 5)
MOST_LISTED = 200


@dataclass(frozen=True)
class Cell:
    likelihood: int
    consequence: int
    count: int
    tint: str
    is_chosen: bool


@dataclass(frozen=True)
class Matrix:
    rows: Sequence[tuple[int, str, Sequence[Cell]]]
    columns: Sequence[tuple[int, str]]
    chosen: tuple[int, int] | None
    listed: Sequence[Assessment]
    total: int
    unscored: int
    incomplete: int  # systems with a score from which pipe is missing

    @classmethod
    def of(cls, user: User, chosen: tuple[int, int] | None) -> "Matrix":
        latest = Assessment.objects.visible_to(user).latest()
        counts = cell_counts(latest)
        scored = sum(counts.values())
        return cls(
            rows=[
                (level, words, [_cell(level, at, counts, chosen) for at in LEVELS])
                for level, words in reversed(likelihood_words().items())
            ],
            columns=list(consequence_words().items()),
            chosen=chosen,
            listed=list(_listed(latest, chosen)[:MOST_LISTED]),
            total=scored,
            unscored=latest.count() - scored,
            incomplete=latest.filter(likelihood__isnull=False, system__open_rows__gt=0).count(),
        )

    @property
    def is_cut(self) -> bool:
        return len(self.listed) == MOST_LISTED

    @property
    def worst(self) -> int:
        return sum(
            cell.count for _, _, cells in self.rows for cell in cells if cell.tint == BANDS[-1]
        )


def cell_counts(latest) -> dict[tuple[int, int], int]:
    rows = (
        latest.filter(likelihood__isnull=False)
        .order_by()
        .values_list("likelihood", "system__consequence_class")
        .annotate(count=Count("pk"))
    )
    return {(likelihood, consequence): count for likelihood, consequence, count in rows}


def chosen_cell(query: Mapping[str, str]) -> tuple[int, int] | None:
    """The cell asked for; anything that is not a cell asks for none."""
    asked = (query.get("likelihood", ""), query.get("consequence", ""))
    levels = {str(level): level for level in LEVELS}
    return (levels[asked[0]], levels[asked[1]]) if set(asked) <= set(levels) else None


def _listed(latest, chosen: tuple[int, int] | None):
    rows = latest.filter(score__isnull=False).select_related("system__site", "system__building")
    if chosen:
        rows = rows.filter(likelihood=chosen[0], system__consequence_class=chosen[1])
    return rows.order_by(F("score").desc(), "system__tag")


def _cell(likelihood: int, consequence: int, counts, chosen) -> Cell:
    key = (likelihood, consequence)
    return Cell(likelihood, consequence, counts.get(key, 0), tint(*key), key == chosen)


def tint(likelihood: int, consequence: int) -> str:
    """The band that the score has in the middle of the cell."""
    edges = (LIKELIHOOD_EDGES[0] / 4, *LIKELIHOOD_EDGES, 0.6)
    middle = (edges[likelihood - 1] * edges[likelihood]) ** 0.5
    score = score_of(hazard_of(middle), CONSEQUENCE_MULTIPLIER[consequence])
    return BANDS[sum(score >= edge for edge in BAND_EDGES)]
