from types import SimpleNamespace

import pytest
from django.template import Context, Template

PSI = 6894.757293168361
NBSP = "\u00a0"


def render(source: str, units: str | None = "us", **context) -> str:
    user = SimpleNamespace(display_units=units) if units else None
    request = SimpleNamespace(user=user)
    return Template("{% load units %}" + source).render(
        Context({"request": request, "user": user, **context})
    )


@pytest.mark.parametrize(
    ("units", "shown"),
    [
        ("us", f'30{NBSP}<span class="unit">psi gauge</span>'),
        ("si", f'2.07{NBSP}<span class="unit">bar gauge</span>'),
        (None, f'30{NBSP}<span class="unit">psi gauge</span>'),
    ],
)
def test_the_tag_reads_the_units_of_the_person_who_asks(units, shown):
    assert render('{% quantity value "pressure" %}', units, value=30 * PSI) == shown


def test_the_filter_takes_the_person():
    assert render("{{ value|pressure:user }}", "si", value=210_000) == (
        f'2.1{NBSP}<span class="unit">bar gauge</span>'
    )


def test_a_missing_value_says_why_the_place_is_empty():
    assert render('{% quantity value "wall" empty="not measured" %}', value=None) == (
        '<span class="empty">not measured</span>'
    )
    assert "not recorded" in render("{{ value|pipe_length:user }}", value=None)


def test_a_column_keeps_its_trailing_zeros():
    assert "30.0" in render('{% quantity value "pressure" fixed=True %}', value=30 * PSI)


def test_the_text_form_has_no_markup():
    assert render('{% quantity_text value "volume" %}', value=1.892705892) == "500 gal"
