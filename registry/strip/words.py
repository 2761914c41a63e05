"""The strip in a sentence, for those who do not see it and for the line above it."""

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, tzinfo
from functools import partial

from django.utils.translation import gettext, ngettext

from registry.translation import _
from registry.words.spoken import written
from registry.words.told.retelling import retold

from .layout import SpanLike, joined

STATE_WORDS = {"inert": _("inert"), "in_doubt": _("in doubt"), "aerated": _("aerated")}
EARLIER_TOLD = 2
Day = Callable[[datetime], str]


def describe(
    spans: Iterable[SpanLike],
    *,
    now: datetime,
    zone: tzinfo = UTC,
    since: datetime | None = None,
    day: Day | None = None,
    is_now_told: bool = True,
) -> str:
    """What the strip shows: the state now, the last changes before it, and what is coming.

    `since` leaves out what ended before it, as a strip that starts there does; `day` writes the
    days where some are known less exactly than others; without `is_now_told` the state now is left
    to the page.
    """
    spans, day = joined(spans), day or partial(day_words, zone=zone)
    past = [span for span in spans if span.starts_at <= now]
    ahead = next((span for span in spans if span.starts_at > now), None)
    if not past:
        return gettext("Nothing is in the book yet.")
    since_when = day(past[-1].starts_at)
    sentences = [
        gettext("{state} since {day}.").format(state=_capital(_word(past[-1])), day=since_when)
    ]
    sentences = sentences if is_now_told else []
    sentences += _earlier(past, day, since)
    if ahead:
        sentences.append(_coming(ahead, day))
    return " ".join(sentences)


def _earlier(past: Sequence[SpanLike], day: Day, since: datetime | None) -> list[str]:
    """The spells before the present one, back to the last few that were not known to be inert.

    Inert spells between them are told too: left out, two troubles would read as one.
    """
    spells = list(zip(past, [span.starts_at for span in past[1:]], strict=False))
    shown = [(span, ended) for span, ended in spells if since is None or ended > since]
    troubled = [place for place, (span, _) in enumerate(shown) if span.state != "inert"]
    if not shown:
        return []
    told = shown[troubled[-EARLIER_TOLD:][0] :] if troubled else shown
    said = [_spell(span, ended, day) for span, ended in reversed(told)]
    if left_out := len(troubled[:-EARLIER_TOLD]):
        said.append(
            ngettext(
                "{count} earlier spell not inert", "{count} earlier spells not inert", left_out
            ).format(count=left_out)
        )
    return [gettext("Before that: {spells}.").format(spells="; ".join(said))]


def _spell(span: SpanLike, ended: datetime, day: Day) -> str:
    lasted = duration_words(span.starts_at, ended)
    return gettext("{state} for {lasted} from {day}").format(
        state=_word(span), lasted=lasted, day=day(span.starts_at)
    )


def _coming(span: SpanLike, day: Day) -> str:
    told = retold(span.reason)
    reason = f": {told[:1].lower()}{told[1:].rstrip('.')}" if told else ""
    return gettext("{state} from {day} unless acted on{reason}.").format(
        state=_capital(_word(span)), day=day(span.starts_at), reason=reason
    )


def day_words(at: datetime, zone: tzinfo) -> str:
    return written(at.astimezone(zone), "%-d %B %Y")


def duration_words(begins: datetime, ends: datetime) -> str:
    """How long, as one says it: hours, days up to two months, months up to two years, years."""
    hours = (ends - begins).total_seconds() / 3600
    days = hours / 24
    if hours < 48:
        count = max(round(hours), 1)
        return ngettext("{count} hour", "{count} hours", count).format(count=count)
    if days < 61:
        return ngettext("{count} day", "{count} days", round(days)).format(count=round(days))
    if days < 730:
        months = round(days / 30.44)
        return ngettext("{count} month", "{count} months", months).format(count=months)
    years = round(days / 365.25)
    return ngettext("{count} year", "{count} years", years).format(count=years)


def _word(span: SpanLike) -> str:
    return str(STATE_WORDS.get(str(span.state), span.state))


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
