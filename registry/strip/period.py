"""Which stretch of time a large strip shows."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from .layout import SpanLike, joined
from .marks import MARKS, Mark

LEAST = timedelta(days=365)
LEAD_SHARE = 8  # one part in eight of what happened, to show how things stood before
AHEAD_SHARE = 16
LEAST_AHEAD = timedelta(days=30)


def telling_period(
    spans: Iterable[SpanLike], marks: Iterable[Mark], now: datetime
) -> tuple[datetime, datetime]:
    """From a little before the first change or event to a little after now.

    Forty years aerated before the first inerting would leave no room for what came after; the
    sentence above the strip tells them.
    """
    spells = joined(spans)
    moments = [span.starts_at for span in spells[1:]]
    moments += [mark.at for mark in marks if mark.kind in MARKS]
    first = min([*moments, now - LEAST])
    start = first - (now - first) / LEAD_SHARE
    if spells:
        start = max(start, min(spells[0].starts_at, first))
    return start, now + max(LEAST_AHEAD, (now - start) / AHEAD_SHARE)
