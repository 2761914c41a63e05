"""Where systems stand at the end of a day, by what the book knew then or later: read in as many
queries for many systems as for one, and worked out by the same derivations as the pages show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from registry import protection
from registry.assess import Book, Case, assess_cases, case_of, read_books
from registry.atmosphere import Span, derive
from registry.atmosphere_rows.system_ledger import PROTECTING
from registry.models import Record, System
from registry.models.assessments import is_worth_telling

CHUNK = 200
AN_INSTANT = timedelta(microseconds=1)


@dataclass(frozen=True)
class Standing:
    """One system. `values` are the fields of an assessment at that end of day; none where nothing
    could be assessed."""

    book: Book
    case: Case | None
    values: dict[str, Any]
    atmosphere: Span | None
    spans: Sequence[Span]
    protection: protection.Span | None

    @property
    def system(self) -> System:
        return self.book.system

    @property
    def score(self) -> float | None:
        return self.values.get("score")

    @property
    def band(self) -> str:
        return str(self.values.get("band", ""))

    @property
    def leak_in_5_yr(self) -> float | None:
        return self.values.get("leak_in_5_yr")

    @property
    def leak_in_1_yr(self) -> float | None:
        return self.values.get("leak_in_1_yr")

    @property
    def life_low_yr(self) -> float | None:
        return self.values.get("life_low_yr")

    @property
    def life_mid_yr(self) -> float | None:
        return self.values.get("life_mid_yr")

    @property
    def life_high_yr(self) -> float | None:
        return self.values.get("life_high_yr")

    @property
    def delay_points(self) -> float | None:
        """Each week until the gas is inert; None where waiting costs nothing that could be told."""
        found = self.values.get("delay_points_per_week")
        return found if is_worth_telling(found, self.values.get("delay_um_per_week")) else None

    @property
    def state(self) -> str:
        return self.atmosphere.state if self.atmosphere else ""

    @property
    def protection_state(self) -> str:
        return self.protection.state if self.protection else protection.NOT_KNOWN

    @cached_property
    def kinds(self) -> frozenset[str]:
        return frozenset(item.kind for item in self.book.records)

    @property
    def is_in_the_book(self) -> bool:
        """Whether the book kept anything of it by then."""
        return bool(self.book.records) and self.book.began_at < self.book.known_at


def standings(keys: Sequence[int], *, until: datetime, learnt_by: datetime) -> list[Standing]:
    """In the order of `keys`."""
    found: dict[int, Standing] = {}
    for begin in range(0, len(keys), CHUNK):
        for one in _of_chunk(keys[begin : begin + CHUNK], until, learnt_by):
            found[one.system.pk] = one
    return [found[key] for key in keys if key in found]


def _of_chunk(keys: Sequence[int], until: datetime, learnt_by: datetime) -> Iterator[Standing]:
    books = read_books(keys, until, learnt_by=learnt_by)
    cases = {book.system.pk: case for book in books if (case := _case(book))}
    assessed = dict(zip(cases, assess_cases(list(cases.values())), strict=True))
    corrected = _corrections(keys, learnt_by)
    for book in books:
        key = book.system.pk
        spans = derive(book.facts, book.items, until - AN_INSTANT)
        yield Standing(
            book=book,
            case=cases.get(key),
            values=assessed[key].values if key in assessed else {},
            atmosphere=spans[-1] if spans else None,
            spans=spans,
            protection=_protection(book, corrected.get(key, {})),
        )


def _case(book: Book) -> Case | None:
    """None too where the book began later: of the time before, it has nothing to assess by."""
    if not book.records or book.began_at >= book.known_at:
        return None
    return case_of(book)


def _protection(book: Book, corrections: dict[int, int]) -> protection.Span | None:
    items = [row for row in book.records if row.kind in PROTECTING]
    spans = protection.derive(book.facts.installed_at, items, corrections)
    return spans[-1] if spans else None


def _corrections(keys: Sequence[int], learnt_by: datetime) -> dict[int, dict[int, int]]:
    """By system and number of what was corrected by then, the number of what stood for it."""
    pairs = Record.objects.filter(
        system__in=keys, kind__in=PROTECTING, superseded_by__recorded_at__lte=learnt_by
    ).order_by()
    found: dict[int, dict[int, int]] = {}
    for system, sequence, later in pairs.values_list(
        "system_id", "sequence", "superseded_by__sequence"
    ):
        found.setdefault(system, {})[sequence] = later
    return found
