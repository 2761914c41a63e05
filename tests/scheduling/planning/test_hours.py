"""Hours by weekday as people write them."""

from datetime import date

import pytest

from scheduling.planning.said.hours import (
    HoursError,
    hours_text,
    parse_days_away,
    parse_deliveries,
    parse_hours,
    parse_skills,
)


@pytest.mark.parametrize(
    "typed, read",
    [
        ("10:00 to 15:00", "Mon-Sun 10:00-15:00"),
        ("Mon-Fri 8:00-12:00, 13-16:30; Sat 9-12",
         "Mon-Fri 08:00-12:00, 13:00-16:30; Sat 09:00-12:00"),
        ("Mon, Wed 8-12", "Mon 08:00-12:00; Wed 08:00-12:00"),
        ("Sat-Mon 9.30 until 17", "Mon 09:30-17:00; Sat-Sun 09:30-17:00"),
        ("Monday to Friday: 7-15\nSun closed", "Mon-Fri 07:00-15:00"),
        ("fri 8h00–12h00", "Fri 08:00-12:00"),
        ("8-24", "Mon-Sun 08:00-24:00"),
        ("closed", ""),
        ("", ""),
    ],
)  # fmt: skip
def test_hours_are_read_as_people_write_them(typed, read):
    assert hours_text(parse_hours(typed)) == read
    assert parse_hours(read) == parse_hours(typed)


@pytest.mark.parametrize(
    "typed, why",
    [
        ("Xyz 8-9", "no day of the week"),
        ("Mon", "cannot be read"),
        ("16-8", "must end after it begins"),
        ("8-12, 11-15", "overlap"),
        ("Mon 8-9; Mon 10-11", "named twice"),
        ("Mon 8:75-9", "must end after it begins"),
        ("8-25", "must end after it begins"),
        ("mornings", "no day of the week"),
    ],
)
def test_hours_that_cannot_be_read_say_what_would_be_right(typed, why):
    with pytest.raises(HoursError, match=why):
        parse_hours(typed)


def test_days_away_and_deliveries_are_lines():
    assert parse_days_away("2026-12-21 to 2026-12-31\n2027-01-04") == [
        (date(2026, 12, 21), date(2026, 12, 31)),
        (date(2027, 1, 4), date(2027, 1, 4)),
    ]
    assert parse_deliveries("2026-12-01 12\n2026-12-01: 3 full") == {date(2026, 12, 1): 15}
    for wrong in ("2026-12-31 to 2026-12-21", "Christmas"):
        with pytest.raises(HoursError, match="cannot be read"):
            parse_days_away(wrong)
    with pytest.raises(HoursError, match="2026-12-01 12"):
        parse_deliveries("twelve on Monday")


def test_skills_are_the_same_however_they_are_written():
    assert parse_skills("Confined Space,  lift ") == {"confined space", "lift"}
