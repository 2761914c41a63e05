import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.kinds.meaning import MarkShape
from registry.strip import (
    MARKS,
    Mark,
    Size,
    build_strip,
    describe,
    duration_words,
    strip_svg,
    strip_svg_for_pdf,
    telling_period,
)

START = datetime(2020, 1, 1, tzinfo=UTC)
DAY = timedelta(days=1)
SMALL = Size(width=100, bar_height=12)
PAGE = Size(width=1000, bar_height=30, has_axis=True, has_letters=True)


@dataclass
class Span:
    starts_at: datetime
    state: str
    reason: str = ""


def at(day: int) -> datetime:
    return START + day * DAY


def hundred_days(*spans, marks=(), now=100, size=SMALL):
    """A strip on which one day is one pixel (ten on the page's)."""
    return build_strip(spans, marks, start=START, end=at(100), now=at(now), size=size)


def test_bars_stand_where_their_days_are():
    strip = hundred_days(Span(at(0), "aerated"), Span(at(25), "inert"), Span(at(80), "in_doubt"))
    assert [(bar.state, bar.x, bar.width) for bar in strip.bars] == [
        ("aerated", 0, 25), ("inert", 25, 55), ("in_doubt", 80, 20),
    ]  # fmt: skip


def test_what_began_before_the_strip_is_cut_at_its_edge():
    strip = hundred_days(
        Span(at(-900), "aerated"), Span(at(-400), "inert"), Span(at(40), "aerated")
    )
    assert [(bar.state, bar.x, bar.width) for bar in strip.bars] == [
        ("inert", 0, 40), ("aerated", 40, 60),
    ]  # fmt: skip


def test_the_sentence_may_write_its_days_another_way_and_leave_the_state_now_to_the_page():
    spans = [Span(at(0), "aerated"), Span(at(60), "inert")]
    said = describe(spans, now=at(90), day=lambda when: f"{when:%Y}", is_now_told=False)
    assert said == "Before that: aerated for 60 days from 2020."


def test_a_second_reason_for_the_same_state_starts_no_new_bar_and_no_new_date():
    spans = [Span(at(0), "inert"), Span(at(10), "aerated", "Leak"), Span(at(60), "aerated", "Trip")]
    assert [bar.x for bar in hundred_days(*spans).bars] == [0, 10]
    assert describe(spans, now=at(100)).startswith("Aerated since 11 January 2020.")


def test_a_day_in_doubt_stays_visible_on_a_strip_of_twenty_years():
    spans = [Span(START, "inert"), Span(at(3000), "in_doubt"), Span(at(3001), "inert")]
    strip = build_strip(
        spans, start=START, end=at(7305), now=at(7305), size=Size(160, 12, has_marks=False)
    )
    assert strip.bars[1].width == 2


def test_a_change_at_the_very_end_is_drawn_inside_the_strip():
    strip = hundred_days(Span(at(0), "inert"), Span(at(99.9), "aerated"))
    assert strip.bars[-1].x + strip.bars[-1].width == 100


def test_what_time_alone_will_bring_is_marked_as_ahead():
    strip = hundred_days(Span(at(0), "inert"), Span(at(90), "in_doubt"), now=60)
    assert [(bar.state, bar.x, bar.is_ahead) for bar in strip.bars] == [
        ("inert", 0, False), ("inert", 60, True), ("in_doubt", 90, True),
    ]  # fmt: skip


def test_a_strip_knows_until_when_the_book_is_silent():
    assert hundred_days(Span(at(30), "inert")).unknown_until_x == 30
    assert hundred_days().unknown_until_x == 100


def test_a_strip_that_ends_before_it_starts_is_refused():
    with pytest.raises(ValueError, match="must end after it starts"):
        build_strip([], start=at(1), end=at(1), now=at(1), size=SMALL)


def test_marks_outside_the_strip_and_of_no_account_are_left_out():
    marks = [Mark(at(-1), "event.trip", "before"), Mark(at(50), "reading.water", "sample")]
    assert hundred_days(marks=marks).marks == ()


def test_the_shape_of_a_mark_says_what_the_event_did():
    marks = [
        Mark(at(10), "event.head_break", "x"),
        Mark(at(20), "inerting.accepted", "x"),
        Mark(at(30), "reading.gas", "x"),
    ]
    strip = hundred_days(marks=marks)
    assert [mark.shape for mark in strip.marks] == [
        MarkShape.BREACH,
        MarkShape.INERTING,
        MarkShape.READING,
    ]


def test_letters_that_would_touch_move_up_a_lane_and_a_fourth_is_left_out():
    marks = [Mark(at(50) + timedelta(hours=n), "event.leak", "x") for n in range(4)]
    strip = hundred_days(marks=marks, size=PAGE)
    assert [mark.level for mark in strip.marks] == [0, 1, 2, None]


def test_a_strip_grows_with_its_lanes_and_no_further():
    one = hundred_days(marks=[Mark(at(50), "event.leak", "x")], size=PAGE)
    two = hundred_days(marks=[Mark(at(50), "event.leak", str(n)) for n in range(2)], size=PAGE)
    assert two.height - one.height == two.bar_top - one.bar_top == 15


def test_every_letter_is_used_once():
    letters = [mark.letter for mark in MARKS.values() if mark.letter]
    assert len(letters) == len(set(letters))


@pytest.mark.parametrize(
    ("days", "labels"),
    [
        (90, ["2020", "Feb", "Mar"]),
        (1096, ["2020", "Apr", "Jul", "Oct", "2021", "Apr", "Jul", "Oct", "2022"]),
        (2192, ["2020", "Jul", "2021", "Jul", "2022", "Jul", "2023", "Jul"]),
        (14610, ["2020", "2022", "2024", "2026"]),
    ],
)
def test_the_axis_counts_in_steps_that_leave_room_for_the_words(days, labels):
    strip = build_strip([], start=START, end=at(days), now=at(-1), size=PAGE)
    assert [tick.label for tick in strip.ticks][: len(labels)] == labels
    gaps = [b.x - a.x for a, b in pairwise(strip.ticks)]
    assert min(gaps) >= 44


def test_no_word_of_the_axis_runs_into_today():
    strip = build_strip([], start=START, end=at(2000), now=at(1830), size=PAGE)
    near = [tick for tick in strip.ticks if tick.label and -62 < tick.x - strip.now_x < 24]
    assert near == []


def test_a_large_strip_begins_shortly_before_the_first_change():
    spans = [Span(at(-15000), "aerated"), Span(at(0), "inert")]
    start, end = telling_period(spans, [], at(800))
    assert (at(0) - start, end - at(800)) == (100 * DAY, 900 / 16 * DAY)


def test_a_large_strip_does_not_begin_before_the_book_does():
    spans = [Span(at(0), "aerated"), Span(at(10), "inert")]
    assert telling_period(spans, [], at(800))[0] == at(0)


def test_a_large_strip_shows_a_year_even_where_nothing_happened():
    start, end = telling_period([Span(at(-5000), "aerated")], [], at(0))
    assert at(0) - start >= 365 * DAY and end - at(0) == 30 * DAY
    assert telling_period([Span(at(-7), "aerated")], [], at(0))[0] == at(-365)


def test_an_event_before_the_first_change_is_on_the_large_strip():
    trip = Mark(at(400), "event.trip", "x")
    spans = [Span(at(-5000), "aerated"), Span(at(900), "inert")]
    assert telling_period(spans, [trip], at(1200))[0] < at(400)


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.2, "1 hour"), (5, "5 hours"), (48, "2 days"), (24 * 12, "12 days"),
        (24 * 90, "3 months"), (24 * 365.25 * 6, "6 years"),
    ],
)  # fmt: skip
def test_durations_are_said_as_people_say_them(hours, words):
    assert duration_words(START, START + timedelta(hours=hours)) == words


def test_the_sentence_tells_the_state_what_was_before_and_what_is_coming():
    spans = [
        Span(datetime(2025, 1, 1, tzinfo=UTC), "inert"),
        Span(datetime(2026, 3, 1, tzinfo=UTC), "in_doubt", "Drain-down"),
        Span(datetime(2026, 3, 13, tzinfo=UTC), "inert"),
        Span(datetime(2026, 9, 1, tzinfo=UTC), "in_doubt", "Confirming reading overdue."),
    ]
    assert describe(spans, now=datetime(2026, 6, 1, tzinfo=UTC)) == (
        "Inert since 13 March 2026. Before that: in doubt for 12 days from 1 March 2026. "
        "In doubt from 1 September 2026 unless acted on: confirming reading overdue."
    )


def test_the_sentence_tells_the_inert_spells_between_two_troubles():
    spans = [
        Span(at(0), "aerated"), Span(at(20), "inert"), Span(at(80), "aerated"),
        Span(at(84), "inert"),
    ]  # fmt: skip
    assert describe(spans, now=at(100), is_now_told=False) == (
        "Before that: aerated for 4 days from 21 March 2020; "
        "inert for 60 days from 21 January 2020; aerated for 20 days from 1 January 2020."
    )


def test_the_sentence_says_that_a_system_now_aerated_was_inert_before():
    spans = [Span(at(0), "inert"), Span(at(30), "aerated")]
    assert describe(spans, now=at(40)) == (
        "Aerated since 31 January 2020. Before that: inert for 30 days from 1 January 2020."
    )


def test_the_sentence_counts_older_spells_instead_of_telling_them():
    spans = [Span(at(10 * n), "inert" if n % 2 else "aerated") for n in range(8)]
    assert describe(spans, now=at(100)).endswith("; 2 earlier spells not inert.")


def test_a_sentence_about_two_years_leaves_out_what_ended_before_them():
    spans = [Span(at(0), "aerated"), Span(at(10), "inert")]
    assert describe(spans, now=at(100), since=at(50)) == "Inert since 11 January 2020."


def test_days_in_words_are_those_of_the_site():
    late = datetime(2026, 5, 3, 2, tzinfo=UTC)
    words = describe([Span(late, "inert")], now=late + DAY, zone=ZoneInfo("America/Denver"))
    assert words == "Inert since 2 May 2026."


def test_an_empty_book_says_so():
    assert describe([], now=START) == "Nothing is in the book yet."


STATES = st.sampled_from(["inert", "in_doubt", "aerated"])
HISTORIES = st.dictionaries(st.integers(-200, 200), STATES, max_size=12).map(
    lambda days: [Span(at(day), state) for day, state in days.items()]
)
EVENTS = st.lists(
    st.builds(
        lambda day, kind: Mark(at(day), kind, "<&>"),
        st.integers(-20, 120),
        st.sampled_from(sorted(MARKS)),
    )
)


@given(HISTORIES, st.integers(-10, 110))
def test_bars_are_in_order_inside_the_strip_and_leave_no_gap(spans, now):
    bars = hundred_days(*spans, now=now).bars
    for bar in bars:
        assert bar.x >= 0 and bar.width >= 2 and bar.x + bar.width <= 100.01
    for bar, following in pairwise(bars):
        assert bar.x <= following.x <= bar.x + bar.width + 0.01


@given(HISTORIES, EVENTS, st.integers(0, 100), st.sampled_from([SMALL, PAGE]))
def test_every_strip_is_well_formed_and_stays_in_its_box(spans, marks, now, size):
    strip = hundred_days(*spans, marks=marks, now=now, size=size)
    for document in (strip_svg(strip, "a < b"), strip_svg_for_pdf(strip, "a < b")):
        root = ElementTree.fromstring(document)
        numbers = re.findall(r"[ML]([-\d.]+) ([-\d.]+)", document)
        assert all(-0.01 <= float(x) <= strip.width + 0.01 for x, _ in numbers)
        assert all(-0.01 <= float(y) <= strip.height + 0.01 for _, y in numbers)
        assert root.find("{*}title").text == "a < b"


def test_a_strip_on_the_page_leaves_its_colours_to_the_style_sheet():
    svg = strip_svg(hundred_days(Span(at(0), "in_doubt"), Span(at(50), "aerated")), "x")
    assert "#" not in svg and "style=" not in svg and "id=" not in svg


def test_a_strip_for_print_carries_its_colours():
    svg = strip_svg_for_pdf(hundred_days(Span(at(0), "inert"), Span(at(50), "aerated")), "x")
    assert 'fill="#0f6e6e"' in svg and 'stroke="#a4421f"' in svg and "class=" not in svg


def test_each_state_has_a_shape_of_its_own():
    drawn = {
        state: re.sub(r'class="[^"]*"', "", strip_svg(hundred_days(Span(at(0), state)), "x"))
        for state in ("inert", "in_doubt", "aerated")
    }
    assert len(set(drawn.values())) == 3


OUTAGE = (Span(at(0), "not_known"), Span(at(40), "impaired"), Span(at(45), "in_service"))


def with_protection(*, now=100):
    return build_strip(
        [Span(at(0), "inert")], start=START, end=at(100), now=at(now), size=PAGE,
        protection=OUTAGE,
    )  # fmt: skip


def test_protection_has_a_lane_of_its_own_under_the_band():
    strip = with_protection()
    assert [(bar.state, bar.x, bar.width) for bar in strip.lane] == [
        ("not_known", 0, 400), ("impaired", 400, 50), ("in_service", 450, 550),
    ]  # fmt: skip
    assert strip.bar_bottom < strip.lane_top < strip.axis_top < strip.height


def test_the_lane_ends_today_since_time_alone_changes_no_protection():
    last = with_protection(now=60).lane[-1]
    assert (last.state, last.x + last.width) == ("in_service", 600)


def test_without_protection_a_strip_is_as_tall_as_before():
    bare = hundred_days(Span(at(0), "inert"), size=PAGE)
    assert (bare.lane, bare.axis_top) == ((), bare.bar_bottom)
    assert bare.height < with_protection().height


def test_each_state_of_protection_has_a_shape_of_its_own_on_page_and_paper():
    page = ElementTree.fromstring(strip_svg(with_protection(), "a strip"))
    rails = [each for each in page.iter() if each.get("class") == "strip-served"]
    blocks = [each for each in page.iter() if each.get("class") == "strip-impaired"]
    assert [rail.get("stroke-dasharray") for rail in rails] == ["2 5", None]
    assert [(float(block.get("x")), float(block.get("width"))) for block in blocks] == [(400, 50)]
    assert "#1b2430" in strip_svg_for_pdf(with_protection(), "a strip")
