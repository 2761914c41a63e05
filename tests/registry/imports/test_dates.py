from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.imports.dates import DMY, MDY, AmbiguousDate, read_date
from registry.imports.problems import CellError

TODAY = date(2026, 6, 1)


@pytest.mark.parametrize(
    ("typed", "on", "precision", "proves"),
    [
        ("1998", date(1998, 1, 1), "year", ""),
        ("1998-02-17", date(1998, 2, 17), "day", ""),
        ("1998-02-17 00:00:00", date(1998, 2, 17), "day", ""),
        ("5/26/1998", date(1998, 5, 26), "day", MDY),
        ("26/5/1998", date(1998, 5, 26), "day", DMY),
        ("26.05.1998", date(1998, 5, 26), "day", DMY),
        ("4/4/2001", date(2001, 4, 4), "day", ""),
        ("26 May 1998", date(1998, 5, 26), "day", ""),
        ("3rd Sept 1998", date(1998, 9, 3), "day", ""),
        ("May 26, 1998", date(1998, 5, 26), "day", ""),
        ("2026-06-01", date(2026, 6, 1), "day", ""),
        ("26 Mai 1998", date(1998, 5, 26), "day", ""),
        ("3.4.2001", date(2001, 4, 3), "day", ""),
        ("5/26/98", date(1998, 5, 26), "day", MDY),
        ("35941", date(1998, 5, 26), "day", ""),
        ("May 1998", date(1998, 5, 1), "month", ""),
        ("mai 98", date(1998, 5, 1), "month", ""),
        ("1998-05", date(1998, 5, 1), "month", ""),
        ("5/1998", date(1998, 5, 1), "month", ""),
        ("Q3 2011", date(2011, 7, 1), "quarter", ""),
        ("3. Quartal 2011", date(2011, 7, 1), "quarter", ""),
        ("III/2011", date(2011, 7, 1), "quarter", ""),
        ("2e semestre 2011", date(2011, 7, 1), "half", ""),
        ("Herbst 1999", date(1999, 10, 1), "quarter", ""),
        ("KW 36/2011", date(2011, 9, 1), "month", ""),
        ("c. 1998", date(1998, 1, 1), "about", ""),
        ("env. 1998", date(1998, 1, 1), "about", ""),
        ("1998 ?", date(1998, 1, 1), "about", ""),
        ("before 1985", date(1985, 1, 1), "before", ""),
        ("< 1985", date(1985, 1, 1), "before", ""),
        ("vor 1985", date(1985, 1, 1), "before", ""),
        ("1990s", date(1990, 1, 1), "decade", ""),
        ("90er", date(1990, 1, 1), "decade", ""),
        ("1998-2001", date(1998, 1, 1), "about", ""),
    ],
)
def test_dates_with_one_reading_are_read(typed, on, precision, proves):
    found = read_date(typed, today=TODAY)
    assert (found.on, found.precision, found.proves) == (on, precision, proves)


SPANISH = (
    ("enero", "ene"), ("febrero", "feb"), ("marzo", "mar"), ("abril", "abr"), ("mayo", "may"),
    ("junio", "jun"), ("julio", "jul"), ("agosto", "ago"), ("septiembre", "sept"),
    ("octubre", "oct"), ("noviembre", "nov"), ("diciembre", "dic"),
)  # fmt: skip
ENDS_OF_SPANISH = ("{} 2024", "{} de 2024", "{} del 2024", "{}/2024", "{}, 2024", "2024 {}")


@pytest.mark.parametrize("number", range(1, 13))
def test_months_are_read_as_they_are_typed_in_spanish(number):
    full, short = SPANISH[number - 1]
    day = date(2024, number, 3)
    for word in (full, full.upper(), full.capitalize(), short, f"{short}."):
        for typed in ("3 {} 2024", "3 de {} de 2024", "3 de {} del 2024", "3/{}/2024", "3-{}-2024"):
            assert read_date(typed.format(word), today=TODAY).on == day, typed.format(word)
        for typed in ENDS_OF_SPANISH:
            found = read_date(typed.format(word), today=TODAY)
            assert (found.on, found.precision) == (day.replace(day=1), "month"), typed.format(word)


def test_the_first_of_a_month_is_read_with_its_sign():
    for typed in ("1º de mayo de 2024", "1.º de mayo de 2024"):
        assert read_date(typed, today=TODAY).on == date(2024, 5, 1)


def test_an_ambiguous_date_is_asked_about_and_never_guessed():
    with pytest.raises(AmbiguousDate) as caught:
        read_date("3/4/2001", today=TODAY)
    assert "3 April 2001 or 4 March 2001" in caught.value.wrong


@pytest.mark.parametrize(("order", "on"), [(DMY, date(2001, 4, 3)), (MDY, date(2001, 3, 4))])
def test_the_answer_settles_an_ambiguous_date(order, on):
    assert read_date("3/4/2001", today=TODAY, order=order).on == on


def test_the_answer_does_not_bend_a_date_that_has_one_reading():
    assert read_date("5/26/1998", today=TODAY, order=DMY).on == date(1998, 5, 26)


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ("", "nothing is written"),
        ("2033", "in the future"),
        ("2026-06-02", "in the future"),
        ("1500", "before there were sprinklers"),
        ("1998-02-30", "no such day"),
        ("31/31/1998", "no such day"),
        ("soon", "not a date"),
        ("1900", "for an empty date"),
        ("1900-01-01", "for an empty date"),
        ("01/01/1900", "for an empty date"),
        ("1900-01-00", "for an empty date"),
        ("9999", "for an empty date"),
        ("26 Foo 1998", "not a month"),
    ],
)
def test_impossible_and_unreadable_dates_say_what_would_be_right(typed, wrong):
    with pytest.raises(CellError) as caught:
        read_date(typed, today=TODAY)
    assert wrong in caught.value.wrong
    assert "1998-05-26" in caught.value.right


@given(text=st.text(max_size=40), order=st.sampled_from([None, DMY, MDY]))
def test_any_text_gives_a_past_day_or_a_cell_error(text, order):
    try:
        assert read_date(text, today=TODAY, order=order).on <= TODAY
    except CellError as error:
        assert error.wrong


@given(st.dates(date(1905, 1, 1), TODAY))
def test_an_answered_order_reads_every_day_back(day):
    assert read_date(f"{day.day}/{day.month}/{day.year}", today=TODAY, order=DMY).on == day
    assert read_date(f"{day.month}/{day.day}/{day.year}", today=TODAY, order=MDY).on == day
