"""Where everything on a strip stands, in pixels."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from itertools import groupby, pairwise
from typing import Protocol

from registry.kinds.meaning import MarkShape

from .marks import MARKS, Mark, letter_levels

LEAST_BAR = 2.0  # a day in doubt must stay visible on a strip of twenty years
LEAST_TICK_PITCH = 48.0
TICK_MONTHS = (1, 3, 6, 12, 24, 60, 120, 240, 600)
LETTER_LANE = 15.0
SHAPE_ROOM = 10.0
AXIS_ROOM = 24.0
LANE_GAP = 4.0
LANE_HEIGHT = 8.0
LABEL_WIDTH = 38.0  # "2026" at 13 px with its offset
NOW_HALF_WIDTH = 24.0  # half of "today", with air
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"
MONTH_WORDS = MONTHS.split()


class SpanLike(Protocol):
    """What the strip reads of a span, stored or just derived."""

    @property
    def starts_at(self) -> datetime: ...

    @property
    def state(self) -> str: ...

    @property
    def reason(self) -> str: ...


@dataclass(frozen=True)
class Size:
    width: float
    bar_height: float
    has_marks: bool = True
    has_axis: bool = False
    has_letters: bool = False


@dataclass(frozen=True)
class Bar:
    state: str
    x: float
    width: float
    is_ahead: bool  # time alone will bring it; drawn slimmer


@dataclass(frozen=True)
class PlacedMark:
    x: float
    shape: MarkShape
    letter: str
    level: int | None
    title: str


@dataclass(frozen=True)
class Tick:
    x: float
    label: str


@dataclass(frozen=True)
class Strip:
    width: float
    height: float
    bar_top: float
    bar_height: float
    bars: tuple[Bar, ...]
    marks: tuple[PlacedMark, ...]
    ticks: tuple[Tick, ...]
    now_x: float | None
    unknown_until_x: float  # nothing is in the book before this
    now_word: str = "today"
    lane: tuple[Bar, ...] = ()  # protection, under the band

    @property
    def bar_bottom(self) -> float:
        return self.bar_top + self.bar_height

    @property
    def lane_top(self) -> float:
        return self.bar_bottom + LANE_GAP

    @property
    def axis_top(self) -> float:
        return self.bar_bottom + _lane_room(self.lane)


def build_strip(
    spans: Iterable[SpanLike],
    marks: Iterable[Mark] = (),
    *,
    start: datetime,
    end: datetime,
    now: datetime,
    size: Size,
    zone: tzinfo = UTC,
    now_word: str = "today",
    protection: Iterable[SpanLike] = (),
) -> Strip:
    """Lay out what happened from `start` to `end`; what began earlier is cut at the edge.

    `protection` gets a lane of its own under the band, up to now: time alone changes none of it.
    """
    if end <= start:
        raise ValueError(f"The strip must end after it starts: {start} to {end}.")
    scale = _Scale(start, end, size.width)
    spans = joined(spans)
    placed = _place_marks(marks, scale) if size.has_marks else ()
    bar_top = _room_above(size, placed)
    now_x = scale.x(now) if start <= now <= end else None
    lane = tuple(bar for bar in _bars(joined(protection), scale, now) if not bar.is_ahead)
    return Strip(
        width=size.width,
        height=bar_top + size.bar_height + _lane_room(lane) + (AXIS_ROOM if size.has_axis else 1),
        bar_top=bar_top,
        bar_height=size.bar_height,
        bars=tuple(_bars(spans, scale, now)),
        marks=placed,
        ticks=tuple(_ticks(scale, zone, now_x)) if size.has_axis else (),
        now_x=now_x,
        unknown_until_x=scale.x(spans[0].starts_at) if spans else size.width,
        now_word=now_word,
        lane=lane,
    )


def _lane_room(lane: Sequence[Bar]) -> float:
    return LANE_GAP + LANE_HEIGHT if lane else 0.0


def joined(spans: Iterable[SpanLike]) -> list[SpanLike]:
    """Spans in order; those of one state that follow each other count as one, told by the first."""
    in_order = sorted(spans, key=lambda span: span.starts_at)
    return [next(same) for _, same in groupby(in_order, key=lambda span: str(span.state))]


@dataclass(frozen=True)
class _Scale:
    start: datetime
    end: datetime
    width: float

    def x(self, at: datetime) -> float:
        share = (at - self.start) / (self.end - self.start)
        return round(self.width * min(max(share, 0.0), 1.0), 2)

    def shows(self, at: datetime) -> bool:
        return self.start <= at <= self.end


def _bars(spans: Sequence[SpanLike], scale: _Scale, now: datetime) -> Iterable[Bar]:
    ends = [span.starts_at for span in spans[1:]] + [scale.end]
    for span, ends_at in zip(spans, ends, strict=False):  # no span at all: nothing to draw
        if ends_at <= scale.start or span.starts_at >= scale.end:
            continue
        for begins, stops in _parts(span.starts_at, ends_at, now):
            x = scale.x(begins)
            width = max(scale.x(stops) - x, LEAST_BAR)
            x = min(x, scale.width - width)
            yield Bar(span.state, x, round(width, 2), begins >= now)


def _parts(begins: datetime, stops: datetime, now: datetime) -> list[tuple[datetime, datetime]]:
    """Past and coming part of a span."""
    edges = [begins, now, stops] if begins < now < stops else [begins, stops]
    return list(pairwise(edges))


def _place_marks(marks: Iterable[Mark], scale: _Scale) -> tuple[PlacedMark, ...]:
    shown = [mark for mark in marks if mark.kind in MARKS and scale.shows(mark.at)]
    shown.sort(key=lambda mark: mark.at)
    places = [(scale.x(mark.at), MARKS[mark.kind].letter) for mark in shown]
    return tuple(
        PlacedMark(x, MARKS[mark.kind].shape, letter, level, mark.title)
        for mark, (x, letter), level in zip(shown, places, letter_levels(places), strict=True)
    )


def _room_above(size: Size, marks: Sequence[PlacedMark]) -> float:
    if not size.has_marks:
        return 1.0
    if not size.has_letters:
        return 5.0
    lanes = max((mark.level + 1 for mark in marks if mark.level is not None), default=0)
    return SHAPE_ROOM + LETTER_LANE * lanes


def _ticks(scale: _Scale, zone: tzinfo, now_x: float | None) -> Iterable[Tick]:
    months = _tick_months(scale)
    first = scale.start.astimezone(zone)
    count = (first.year * 12 + first.month - 1) // months * months
    while True:
        at = datetime(count // 12, count % 12 + 1, 1, tzinfo=zone)
        if at > scale.end:
            return
        x = scale.x(at)
        if at >= scale.start:
            has_room = x + LABEL_WIDTH <= scale.width and _is_clear(x, now_x)
            yield Tick(x, _tick_label(at) if has_room else "")
        count += months


def _tick_label(at: datetime) -> str:
    return str(at.year) if at.month == 1 else MONTH_WORDS[at.month - 1]


def _is_clear(x: float, now_x: float | None) -> bool:
    """Whether a label that begins at x leaves room for the word "today"."""
    if now_x is None:
        return True
    return x + LABEL_WIDTH <= now_x - NOW_HALF_WIDTH or x >= now_x + NOW_HALF_WIDTH


def _tick_months(scale: _Scale) -> int:
    span_months = (scale.end - scale.start).days / 30.44
    pitch = scale.width / max(span_months, 0.1)
    return next((m for m in TICK_MONTHS if m * pitch >= LEAST_TICK_PITCH), TICK_MONTHS[-1])
