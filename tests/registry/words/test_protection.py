"""The lane of protection, told to those who do not see it."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from registry.words.protection import lane_words

NOW = datetime(2026, 6, 1, tzinfo=UTC)
START = NOW - timedelta(days=365)


@dataclass
class Span:
    starts_at: datetime
    state: str
    reason: str = ""


def ago(days: int, state: str) -> Span:
    return Span(NOW - timedelta(days=days), state)


def told(*spans: Span) -> str:
    return lane_words(spans, start=START, now=NOW, zone=UTC)


def test_an_impairment_that_lasts_says_since_when():
    words = told(ago(900, "not_known"), ago(20, "impaired"))
    assert words.endswith("impaired 1 time in what is shown, since 12 May 2026 and still.")


def test_of_several_the_last_is_told_with_how_long_it_was():
    words = told(
        ago(300, "impaired"), ago(290, "in_service"), ago(20, "impaired"), ago(17, "in_service")
    )
    assert words.endswith(
        "impaired 2 times in what is shown, the last for 3 days from 12 May 2026."
    )


def test_what_ended_before_the_strip_begins_is_left_out():
    assert "in service" in told(ago(800, "impaired"), ago(790, "in_service"))


def test_never_stated_is_not_known_and_not_in_service():
    assert told(ago(900, "not_known")).endswith("not known, no impairment in what is shown.")


def test_without_a_span_nothing_is_claimed():
    assert told() == ""
