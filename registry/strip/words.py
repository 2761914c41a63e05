"""The strip in a sentence, for those who do not see it and for the line above it."""

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, tzinfo
from functools import partial

from .layout import SpanLike, joined

STATE_WORDS = {"inert": "inert", "in_doubt": "in doubt", "aerated": "aerated"}
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
        return "Nothing is in the book yet."
    sentences = [f"{_capital(_word(past[-1]))} since {day(past[-1].starts_at)}."]
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
        said.append(_count(left_out, "earlier spell") + " not inert")
    return [f"Before that: {'; '.join(said)}."]


def _spell(span: SpanLike, ended: datetime, day: Day) -> str:
    lasted = duration_words(span.starts_at, ended)
    return f"{_word(span)} for {lasted} from {day(span.starts_at)}"


def _coming(span: SpanLike, day: Day) -> str:
    reason = f": {span.reason[:1].lower()}{span.reason[1:].rstrip('.')}" if span.reason else ""
    return f"{_capital(_word(span))} from {day(span.starts_at)} unless acted on{reason}."


def day_words(at: datetime, zone: tzinfo) -> str:
    local = at.astimezone(zone)
    return f"{local.day} {local:%B %Y}"


def duration_words(begins: datetime, ends: datetime) -> str:
    """How long, as one says it: hours, days up to two months, months up to two years, years."""
    hours = (ends - begins).total_seconds() / 3600
    days = hours / 24
    if hours < 48:
        return _count(max(round(hours), 1), "hour")
    if days < 61:
        return _count(round(days), "day")
    if days < 730:
        return _count(round(days / 30.44), "month")
    return _count(round(days / 365.25), "year")


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _word(span: SpanLike) -> str:
    return STATE_WORDS.get(str(span.state), str(span.state))


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
