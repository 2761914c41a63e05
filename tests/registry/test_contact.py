"""Telephone numbers in notes dial; days and amounts do not."""

import pytest

from registry.templatetags.contact import dialled


@pytest.mark.parametrize(
    "note, number",
    [
        ("Key: +44 20 7946 0958, ask for the porter", "+442079460958"),
        ("Gate (312) 555-0142.", "3125550142"),
        ("call 01632 960 001", "01632960001"),
    ],
)
def test_a_number_is_a_link_that_dials(note, number):
    assert f'href="tel:{number}"' in dialled(note)


@pytest.mark.parametrize(
    "note", ["Since 2026-12-01", "until 01.12.2026", "Shed 4, riser 12", "8:00-16:30", "room 1234"]
)
def test_days_and_rooms_are_no_numbers_to_dial(note):
    assert dialled(note) == note


def test_what_people_typed_is_escaped():
    assert dialled("<b>01632 960 001</b>") == (
        '&lt;b&gt;<a href="tel:01632960001">01632 960 001</a>&lt;/b&gt;'
    )
