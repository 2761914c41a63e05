"""Protection over time in a sentence."""

from collections.abc import Sequence
from datetime import datetime, tzinfo

from django.utils.translation import gettext, ngettext

from registry.protection import IMPAIRED, IN_SERVICE
from registry.strip import SpanLike, duration_words
from registry.strip.layout import joined
from registry.translation import _
from registry.words.spoken import day_words

PROTECTION_WORDS = {
    "in_service": _("in service"),
    "impaired": _("impaired"),
    "not_known": _("not known"),
}


def lane_words(spans: Sequence[SpanLike], *, start: datetime, now: datetime, zone: tzinfo) -> str:
    """What the lane under the band shows of the time from `start` to now; empty without spans."""
    spells = joined(span for span in spans if span.starts_at <= now)
    ends = [span.starts_at for span in spells[1:]] + [now]
    shown = [(span, end) for span, end in zip(spells, ends, strict=False) if end > start]
    if not shown:
        return ""
    out = [(span, end) for span, end in shown if span.state == IMPAIRED]
    if not out:
        return _never_out(shown[-1][0])
    last, ended = out[-1]
    words = ngettext(
        "Under the band, protection: impaired {times} time in what is shown, {last}.",
        "Under the band, protection: impaired {times} times in what is shown, the last {last}.",
        len(out),
    )
    return words.format(times=len(out), last=_lasted(last.starts_at, ended, now, zone))


def _never_out(now_holds: SpanLike) -> str:
    if now_holds.state == IN_SERVICE:
        return gettext("Under the band, protection: in service, no impairment in what is shown.")
    return gettext("Under the band, protection: not known, no impairment in what is shown.")


def _lasted(began: datetime, ended: datetime, now: datetime, zone: tzinfo) -> str:
    local = began.astimezone(zone)
    day = day_words(local)
    if ended >= now:
        return gettext("since {day} and still").format(day=day)
    lasted = duration_words(began, ended)
    return gettext("for {lasted} from {day}").format(lasted=lasted, day=day)
