"""Words and figures of runs as templates show them."""

from datetime import timedelta
from math import inf
from xml.etree import ElementTree

import pytest
from django.template import Context, Template

from registry.corrosion.inerting import PlanInputs, plan_inerting
from registry.templatetags.runs import bands, chance, elapsed, recovery
from tests.factories import NOW


@pytest.mark.parametrize(
    ("probability", "words"),
    [(0.0, "hardly"), (0.31, "31 %"), (0.97, "97 %"), (0.999, "nearly sure"), (1.0, "nearly sure")],
)
def test_a_chance_claims_no_more_than_the_model_can(probability, words):
    assert chance(probability) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(600, "about 1 h"), (36 * 3600, "about 36 h"), (14 * 86_400, "about 14 days"), (inf, "never")],
)
def test_recovery_is_told_in_hours_days_or_never(seconds, words):
    assert recovery(seconds).startswith(words)


def test_the_clock_stands_still_once_the_run_has_ended():
    ended = elapsed(NOW, NOW + timedelta(hours=2, minutes=5))
    assert "2:05" in ended
    assert "data-since" not in ended
    assert "data-since" in elapsed(NOW)


@pytest.mark.parametrize(("units", "words"), [("us", "136"), ("si", "3.9")])
def test_gas_is_told_as_it_is_sold(rf, owner, units, words):
    owner.display_units = units
    request = rf.get("/")
    request.user = owner
    text = Template("{% load runs %}{% gas 3.864 %}").render(Context({"request": request}))
    assert text.startswith(words)


@pytest.mark.parametrize("feed", [99.9, 85.0])
def test_the_picture_of_the_plan_is_well_formed_and_stays_in_its_box(feed):
    picture = ElementTree.fromstring(bands(plan_inerting(PlanInputs(1.0, feed_n2_percent=feed))))
    width = float(picture.get("viewBox").split()[2])
    bars = [element for element in picture if element.tag == "rect"]
    assert bars
    for bar in bars:
        left = float(bar.get("x"))
        assert 0 <= left <= left + float(bar.get("width")) <= width
