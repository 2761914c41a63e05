"""Whatever was typed, a feed holds no control character, and a reader gets the rest."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from scheduling.calendars.ics import build_feed
from scheduling.calendars.plain_text import without_controls
from tests.scheduling.calendars.test_ics import entry

CONTROL = "".join(map(chr, (*range(0x20), 0x7F, *range(0x80, 0xA0), 0x2028, 0x2029)))
TYPED = st.text(st.one_of(st.sampled_from(CONTROL + "\\;,:\"'ä漢🔥"), st.characters(codec="utf-8")))


def worded(words):
    one = entry(location=words)
    return replace(one, text=replace(one.text, summary=words, description=words))


@given(TYPED)
def test_no_line_holds_a_control_character_or_more_than_75_octets(text):
    whole = build_feed(text, [worded(text)])
    lines = whole.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert not set(b"".join(lines).decode()) & set(CONTROL)


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"])))
def test_another_reader_gets_the_text_that_was_typed(text):
    read = Calendar.from_ical(build_feed("A", [worded(text)]))
    assert str(read.events[0]["DESCRIPTION"]) == text


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("a\r\nb\nc\rd\u2028e\x85f", "a\nb\nc\nd\ne\nf"),
        ("bell\x07 tab\tend\x7f", "bell tab end"),
    ],
)
def test_ends_of_lines_are_kept_and_other_controls_left_out(typed, expected):
    assert without_controls(typed) == expected
