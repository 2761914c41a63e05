"""The strip in templates: {% strip system.spans.all marks=records size="page" now=now %}."""

from collections.abc import Iterable
from datetime import datetime, timedelta, tzinfo
from functools import partial
from zoneinfo import ZoneInfo

from django import template
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from registry.kinds import KINDS
from registry.models import Record, System
from registry.strip import (
    MARKS,
    STATE_WORDS,
    Day,
    Mark,
    Size,
    SpanLike,
    build_strip,
    describe,
    protection_sample,
    strip_svg,
    telling_period,
)
from registry.words.protection import PROTECTION_WORDS, lane_words
from registry.words.spoken import Spoken, day_words

register = template.Library()

ROW_YEARS = timedelta(days=731)  # the same two years in every row, so that rows compare
SMALL = {"row": Size(160, 12), "thumbnail": Size(240, 18)}
PAGE = {
    "strip-narrow": Size(358, 26, has_axis=True, has_letters=True),
    "strip-middle": Size(640, 28, has_axis=True, has_letters=True),
    "strip-wide": Size(1100, 32, has_axis=True, has_letters=True),
}


@register.simple_tag
def strip(
    spans: Iterable[SpanLike],
    marks: Iterable[Record | Mark] = (),
    size: str = "row",
    now: datetime | None = None,
    zone: str = "",
    now_word: str = "today",
    of: System | None = None,
    protection: Iterable[SpanLike] = (),
) -> SafeString:
    """Inline SVG; "row" and "thumbnail" are one picture, "page" a figure with words and key.

    The figure says what was before and what is coming; the state now stands on its page.

    A page about another day than today says so in `now_word`, a short one. `of` gives the zone,
    and lets an installation of which only the year is known be told so. `protection` is drawn in
    a lane of its own on a page; a small strip has no room for it.
    """
    spans, now = list(spans), now or timezone.now()
    tz = _zone(zone, of)
    day = of.day_words if of else None
    placed = [_mark(item, tz) for item in marks]
    if size == "page":
        return _figure(spans, placed, now, tz, now_word, day, list(protection))
    return _small(spans, placed, now, tz, size, day)


def _zone(zone: str, system: System | None) -> tzinfo:
    if system:
        return system.site.zone
    return ZoneInfo(zone) if zone else timezone.get_current_timezone()


@register.simple_tag
def state(code: str) -> SafeString:
    """The mark and the word of a state: {% state system.atmosphere_state %}."""
    if code not in STATE_WORDS:
        return format_html('<span class="empty">{}</span>', gettext("Not derived yet"))
    css = code.replace("_", "-")
    return format_html('<span class="state state-{}">{}</span>', css, state_word(code))


@register.simple_tag
def since(when: datetime | None, system: System) -> str:
    """The day a state began: {% since system.atmosphere_since system %}."""
    return system.day_words(when) if when else gettext("not derived yet")


@register.filter
def state_word(code: str) -> str:
    return STATE_WORDS.get(code, code).capitalize()


def _small(
    spans: list[SpanLike],
    marks: list[Mark],
    now: datetime,
    tz: tzinfo,
    size: str,
    day: Day | None,
) -> SafeString:
    start = now - ROW_YEARS
    drawn = build_strip(spans, marks, start=start, end=now, now=now, size=SMALL[size], zone=tz)
    words = describe(spans, now=now, zone=tz, since=start, day=day)
    return mark_safe(strip_svg(drawn, words, css_class=f"strip-{size}"))  # nosec B308


def _figure(
    spans: list[SpanLike],
    marks: list[Mark],
    now: datetime,
    tz: tzinfo,
    now_word: str,
    day: Day | None,
    protection: list[SpanLike],
) -> SafeString:
    start, end = telling_period(spans, marks, now)
    title = (
        gettext("Atmosphere since {tz:%B %Y}, and protection under it")
        if protection
        else gettext("Atmosphere since {tz:%B %Y}")
    ).format(tz=Spoken(start.astimezone(tz)))
    words = describe(spans, now=now, zone=tz, day=day, is_now_told=False) or gettext(
        "The strip begins in {tz:%B %Y}."
    ).format(tz=Spoken(start.astimezone(tz)))
    told = lane_words(protection, start=start, now=now, zone=tz)
    drawn = partial(
        build_strip, spans, marks, start=start, end=end, now=now, zone=tz, now_word=now_word,
        protection=protection,
    )  # fmt: skip
    pictures = mark_safe(  # nosec B308
        "".join(
            strip_svg(
                drawn(size=size),
                title,
                css_class=css_class,
            )
            for css_class, size in PAGE.items()
        )
    )
    return format_html(
        '<figure class="strip-figure"><figcaption>{}</figcaption>{}{}</figure>',
        " ".join(part for part in (words, told) if part),
        pictures,
        format_html("{}{}", _lane_key(protection), _key(marks)),
    )


def _mark(item: Record | Mark, tz: tzinfo) -> Mark:
    """A mark from a record of the ledger (or a ready mark)."""
    if isinstance(item, Mark):
        return item
    day = item.occurred_at.astimezone(tz)
    kind = KINDS.get(item.kind)
    label = kind.label if kind else item.kind
    return Mark(item.occurred_at, item.kind, f"{day_words(day)}: {label}")


def _lane_key(protection: list[SpanLike]) -> SafeString:
    """What the lane under the band draws; only the states that protection had."""
    had = {str(span.state) for span in protection}
    entries = [
        format_html("<li>{} {}</li>", mark_safe(protection_sample(code)), word)  # nosec B308
        for code, word in PROTECTION_WORDS.items()
        if code in had
    ]
    if not entries:
        return mark_safe("")  # nosec B308
    words = format_html("<li><b>{}</b></li>", gettext("Protection"))
    return format_html('<ul class="strip-key">{}{}</ul>', words, mark_safe("".join(entries)))  # nosec B308


def _key(marks: list[Mark]) -> SafeString:
    """What the letters and shapes on this strip stand for; only those that are there."""
    kinds = sorted({mark.kind for mark in marks if mark.kind in MARKS})
    if not kinds:
        return mark_safe("")  # nosec B308
    entries = [
        format_html("<li><b>{}</b> {}</li>", MARKS[kind].letter or "○", KINDS[kind].label)
        for kind in kinds
    ]
    return format_html('<ul class="strip-key">{}</ul>', mark_safe("".join(entries)))  # nosec B308
