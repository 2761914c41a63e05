"""From a ledger to what the gas and water exposed the pipe to, as the physics takes it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from registry.assess.books import Book
from registry.assess.clock import YEAR, years
from registry.assess.fills import Fill, assumed_fills, fills_of
from registry.assess.stretches import Stretch, oxygen_at, stretch_at, stretches_of
from registry.atmosphere import LedgerItem, SystemFacts, breach
from registry.atmosphere.drift import drifts, feed_oxygen, turnover_per_day
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.constants import OXYGEN_IN_DRY_AIR
from registry.corrosion.exposure import expected_fills_per_year
from registry.corrosion.inputs import GasSpan, WaterDose
from registry.kinds import KINDS
from registry.kinds.meaning import Water

DAYS_PER_YEAR = 365.25
OPEN_PIPE_TURNOVER = 52.0
"""Share of the air in deluge pipe renewed each year through its open nozzles. Assumed: weekly."""

TEST_FLOW_SHARE = 0.1
"""Share of the water that a test flow of unknown amount renews. Assumed; the effect is small."""

SHORTEST = timedelta(days=1)
"""Gas that was there for less than this is left out: corrosion takes weeks."""


@dataclass(frozen=True)
class GasHistory:
    """`causes` has, beside each span, the record it follows from; None where none does."""

    spans: tuple[GasSpan, ...]
    causes: tuple[int | None, ...]
    water: tuple[WaterDose, ...]
    future_fills_per_year: float
    future_oxygen: float | None
    known_from: datetime


def gas_history(book: Book, assumptions: Assumptions) -> GasHistory:
    items, spans = book.items, stretches_of(book)
    if book.system.kind in ("wet", "antifreeze"):
        return _water_filled(book, items, spans, assumptions)
    return _gas_filled(book, items, spans, assumptions)


def _water_filled(
    book: Book, items: list[LedgerItem], spans: Sequence[Stretch], assumptions: Assumptions
) -> GasHistory:
    logged = fills_of(book.facts, items, spans)
    since = [fill for fill in logged if fill.at >= book.began_at]
    fills, known_from = _with_assumed(book, logged, assumptions)
    first = [] if fills and fills[0].at <= known_from else [_nothing_left(known_from)]
    return GasHistory(
        spans=(*first, *(GasSpan(years(fill.at), fill.oxygen) for fill in fills)),
        causes=(*(None for _ in first), *(fill.cause_id for fill in fills)),
        water=(*_fill_doses(fills), *_test_doses(book, items, known_from)),
        future_fills_per_year=_expected(book, len(since), assumptions.future_fills_wet),
        future_oxygen=_next_fill(book, spans),
        known_from=known_from,
    )


def _with_assumed(
    book: Book, logged: list[Fill], assumptions: Assumptions
) -> tuple[list[Fill], datetime]:
    known_from = min([book.began_at, *(fill.at for fill in logged[:1])])
    rate, oxygen = float(assumptions.unknown_fills_per_year), float(assumptions.unknown_oxygen)
    assumed = assumed_fills(known_from, book.began_at, rate, oxygen)
    return sorted([*logged, *assumed], key=lambda fill: fill.at), known_from


def _nothing_left(known_from: datetime) -> GasSpan:
    """Where the known history begins: the rate assumed until then has spent its oxygen."""
    return GasSpan(years(known_from), 0.0)


def _fill_doses(fills: Sequence[Fill]) -> list[WaterDose]:
    return [
        WaterDose(years(fill.at), dissolved_oxygen_kg_m3=fill.dissolved_kg_m3) for fill in fills
    ]


def _test_doses(book: Book, items: Sequence[LedgerItem], since: datetime) -> list[WaterDose]:
    return [
        WaterDose(years(item.occurred_at), _renewed(item, book.facts))
        for item in items
        if item.occurred_at >= since and KINDS[item.kind].water_of(item, book.facts) is Water.FLOWS
    ]


def _renewed(item: LedgerItem, facts: SystemFacts) -> float:
    water_m3 = item.number("water_m3")
    if water_m3 is None or not facts.volume_m3:
        return TEST_FLOW_SHARE
    return min(water_m3 / facts.volume_m3, 1.0)


def _next_fill(book: Book, spans: Sequence[Stretch]) -> float:
    """Oxygen that the next fill would trap: air where the pipe is aerated now."""
    span = stretch_at(spans, book.known_at)
    if span is None or span.state == "aerated":
        return OXYGEN_IN_DRY_AIR
    return oxygen_at(spans, book.facts, book.known_at)


def _gas_filled(
    book: Book, items: list[LedgerItem], spans: Sequence[Stretch], assumptions: Assumptions
) -> GasHistory:
    known_from = _watched_from(book, spans)
    kept = _lasting([span for span in spans if span.starts_at > known_from])
    held = stretch_at(spans, known_from)
    head = [_gas_span(book, known_from, held, oxygen_at(spans, book.facts, known_from))]
    tail = [_gas_span(book, span.starts_at, span, span.oxygen) for span in kept]
    since = [item for item in items if item.occurred_at >= book.began_at]
    breaches = sum(breach(item, book.facts).lets_air_in for item in since)
    return GasHistory(
        spans=(*head, *tail),
        causes=(held.cause_id if held else None, *(span.cause_id for span in kept)),
        water=(),
        future_fills_per_year=_expected(book, breaches, assumptions.future_breaches_dry),
        future_oxygen=None,
        known_from=known_from,
    )


def _lasting(spans: Sequence[Stretch]) -> list[Stretch]:
    """Without the steps of a run and whatever else was over within a day."""
    ends = [span.starts_at for span in spans[1:]]
    short = {at for at, end in enumerate(ends) if end - spans[at].starts_at < SHORTEST}
    return [span for at, span in enumerate(spans) if at not in short]


def _watched_from(book: Book, spans: Sequence[Stretch]) -> datetime:
    """When the register began, or earlier if the pipe was known to hold nitrogen before.

    Air let in before that is what is assumed of the time anyway.
    """
    with_nitrogen = (span.starts_at for span in spans if span.state != "aerated")
    return min(book.began_at, next(with_nitrogen, book.began_at))


def _gas_span(book: Book, at: datetime, span: Stretch | None, oxygen: float) -> GasSpan:
    """The make-up is what the supply delivers, or more of the same where that is not known."""
    if book.system.kind == "deluge" or span is None:
        return GasSpan(years(at), OXYGEN_IN_DRY_AIR, OXYGEN_IN_DRY_AIR, OPEN_PIPE_TURNOVER)
    feed = span.feed
    makeup = feed_oxygen(book.facts, feed).mid if drifts(book.facts, feed) else oxygen
    turnover = turnover_per_day(book.facts, feed)[1] * DAYS_PER_YEAR
    return GasSpan(years(at), oxygen, makeup, turnover)


def _expected(book: Book, count: int, assumed) -> float:
    watched = (book.known_at - book.began_at) / YEAR
    return expected_fills_per_year(count, watched, float(assumed))
