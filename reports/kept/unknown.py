"""What a report cannot say, by system: the sentences a reader has to know before deciding."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.utils.functional import Promise

from registry.kinds import KINDS
from registry.kinds.readings import WALL_READING
from registry.protection import NOT_KNOWN
from registry.translation import _
from reports.kept.standing import Standing

WALL_KINDS = frozenset([WALL_READING.code])
GAS_KINDS = frozenset(code for code, kind in KINDS.items() if kind.shows_gas)
A_YEAR = timedelta(days=366)


@dataclass(frozen=True)
class Unknown:
    words: str
    systems: Sequence[Standing]


def _no_recent_gas(row: Standing) -> bool:
    since = row.book.known_at - A_YEAR
    return not any(one.kind in GAS_KINDS and one.occurred_at >= since for one in row.book.records)


ASKED: tuple[tuple[str | Promise, Callable[[Standing], bool]], ...] = (
    (_("The book kept nothing of it by that day."), lambda row: not row.is_in_the_book),
    (
        _("No score: no pipe in the register, or pipe outside the model without field evidence."),
        lambda row: row.is_in_the_book and row.score is None,
    ),
    (
        _("Incomplete: rows of its register are still to be fixed, so pipe is missing."),
        lambda row: row.system.is_incomplete,
    ),
    (
        _("Nobody has stated or tested that its sprinklers would work."),
        lambda row: row.protection_state == NOT_KNOWN,
    ),
    (_("Its atmosphere is in doubt."), lambda row: row.state == "in_doubt"),
    (
        _("No reading of its gas is on record from the year before that day."),
        lambda row: row.is_in_the_book and _no_recent_gas(row),
    ),
    (
        _("No wall was ever measured: its wall is what the model computes."),
        lambda row: row.is_in_the_book and not row.kinds & WALL_KINDS,
    ),
)


def unknowns(rows: Sequence[Standing]) -> list[Unknown]:
    """Only what holds of any; the gravest first."""
    found = [Unknown(str(words), [row for row in rows if holds(row)]) for words, holds in ASKED]
    return [one for one in found if one.systems]
