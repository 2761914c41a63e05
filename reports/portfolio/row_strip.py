"""The strip of a table row: as few elements as it can be, since a page has fifty of them.

Spans are rectangles filled by the page's own patterns; filled marks are one path, hollow another.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from itertools import pairwise

from registry.kinds.meaning import MarkShape
from registry.strip import MARKS
from registry.strip.layout import SpanLike, joined
from registry.templatetags.strip import ROW_YEARS

WIDTH, HEIGHT, TOP, BAR = 176, 16, 6, 9
LEAST_BAR = 2.0
PATTERNS = (
    '<svg class="defs" aria-hidden="true" focusable="false"><defs>'
    '<pattern id="in-doubt" width="8" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(-45)"><rect width="8" height="2" class="p-in-doubt"/></pattern>'
    '<pattern id="aerated" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<circle cx="2.5" cy="2.5" r=".9" class="p-aerated"/></pattern></defs></svg>'
)
CLASSES = {"inert": "b-i", "in_doubt": "b-d", "aerated": "b-a"}
PATHS = {
    MarkShape.READING: "m{x:g} 3m-2.5 0a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0-5 0",
    MarkShape.WORK: "m{x:g} 0v6",
    MarkShape.BREACH: "m{x:g} 0m-3 0h6l-3 6z",
    MarkShape.INERTING: "m{x:g} 0l3 3-3 3-3-3z",
}
HOLLOW = (MarkShape.READING, MarkShape.WORK)


def row_strip(
    spans: Sequence[SpanLike], marks: Iterable[tuple[str, datetime]], now: datetime
) -> str:
    """The two years before `now`. Decoration beside words: not told to screen readers."""
    start = now - ROW_YEARS
    parts = [
        f'<rect class="{CLASSES[state]}" x="{x:g}" y="{TOP}.5" width="{width:g}" height="{BAR}"/>'
        for state, x, width in bars(spans, start, now)
    ]
    parts += _marks(marks, start, now)
    return (
        f'<svg class="s2" width="{WIDTH}" height="{HEIGHT}" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'aria-hidden="true" focusable="false">{"".join(parts)}</svg>'
    )


def bars(
    spans: Iterable[SpanLike], start: datetime, now: datetime
) -> Iterable[tuple[str, float, float]]:
    """State, left edge and width of what holds between `start` and `now`, in pixels."""
    known = [span for span in joined(spans) if span.starts_at < now]
    edges = [*(span.starts_at for span in known), now]
    for span, (begins, ends) in zip(known, pairwise(edges), strict=True):
        if ends <= start:
            continue
        left = _x(max(begins, start), start, now)
        width = max(_x(ends, start, now) - left, LEAST_BAR)
        yield str(span.state), min(left, WIDTH - LEAST_BAR), round(width, 1)


def _x(at: datetime, start: datetime, now: datetime) -> float:
    return round(WIDTH * ((at - start) / (now - start)), 1)


def _marks(marks: Iterable[tuple[str, datetime]], start: datetime, now: datetime) -> Iterable[str]:
    paths = {True: "", False: ""}
    for kind, at in marks:
        if start <= at <= now:
            shape = MARKS[kind].shape
            x = min(max(_x(at, start, now), 3), WIDTH - 3)
            paths[shape in HOLLOW] += PATHS[shape].format(x=x).replace("m", "M", 1)
    if paths[False]:
        yield f'<path class="mk" d="{paths[False]}"/>'
    if paths[True]:
        yield f'<path class="mk h" d="{paths[True]}"/>'
