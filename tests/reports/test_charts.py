"""Charts: their data are the data they were given, and their colours are the tokens."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from django.conf import settings
from django.core.cache import caches

from reports import charts
from reports.charts import NARROW, TOKENS, WIDE, BeliefChart, FanChart

FAN = FanChart(
    years=(2000.0, 2010.0, 2020.0, 2040.0),
    low=(0.0, 0.1, 0.2, 0.4),
    middle=(0.0, 0.2, 0.4, 0.8),
    high=(0.0, 0.3, 0.6, 1.2),
    now_year=2026.4,
    wall=3.05,
    measured=((2019.5, 0.5, 0.1),),
    unit="mm",
)
BELIEF = BeliefChart(theta=(0.5, 1.0, 2.0), prior=(0.2, 0.6, 0.2), posterior=(0.7, 0.25, 0.05))


def values_of(spec) -> list[dict]:
    """Every row of data in a specification, its own and those of its layers."""
    own = spec.get("data", {}).get("values", [])
    return [*own, *(row for layer in spec.get("layer", []) for row in values_of(layer))]


def test_the_fan_holds_every_year_its_bands_its_wall_and_its_readings():
    rows = values_of(charts.fan_spec(FAN))
    assert {"year": 2020.0, "low": 0.2, "middle": 0.4, "high": 0.6} in rows
    assert any(row.get("level") == 3.05 for row in rows)
    assert any(row.get("lost") == 0.5 and row["from"] == 0.4 for row in rows)
    assert any(row.get("words") == "today" and row["year"] == 2026.4 for row in rows)


def test_a_reading_never_reaches_below_zero():
    spec = charts.fan_spec(replace(FAN, measured=((2019.5, 0.02, 0.1),)))
    assert min(row["from"] for row in values_of(spec) if "from" in row) == 0


def test_the_whole_fan_and_its_wall_are_within_the_axis():
    deep = replace(FAN, high=(0.0, 1.0, 2.0, 4.0))
    tops = [
        layer["encoding"]["y"]["scale"]["domain"][1]
        for layer in charts.fan_spec(deep)["layer"]
        if "scale" in layer.get("encoding", {}).get("y", {})
    ]
    assert tops == [4.0]


def test_the_belief_shows_both_curves():
    rows = values_of(charts.belief_spec(BELIEF))
    assert {"theta": 1.0, "prior": 0.6, "posterior": 0.25} in rows
    assert {row["words"] for row in rows if "words" in row} == {"before evidence", "with evidence"}


@pytest.mark.parametrize("size", [WIDE, NARROW])
@pytest.mark.parametrize("chart", [FAN, BELIEF], ids=["fan", "belief"])
def test_a_chart_draws_and_follows_the_theme(chart, size):
    drawn = charts.themed_svg(chart, size)
    assert drawn.startswith("<svg ") and drawn.endswith("</svg>")
    assert 'aria-hidden="true"' in drawn[:60]
    assert "var(--aerated)" in drawn
    assert not set(TOKENS.values()) & set(re.findall(r"#[0-9a-f]{6}", drawn))


class Forbidden(HTMLParser):
    """What a strict content security policy would refuse."""

    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        names = {name for name, _ in attrs}
        if tag in ("script", "style", "image") or "style" in names or "href" in names:
            self.found.append(tag)


def test_a_chart_holds_nothing_the_page_policy_refuses():
    parser = Forbidden()
    parser.feed(charts.themed_svg(FAN, WIDE))
    assert parser.found == []


def test_a_printed_chart_keeps_plain_colours_in_the_typeface_of_the_paper():
    drawn = charts.printed_svg(FAN, "Serif")
    assert "var(" not in drawn
    assert 'font-family="Serif"' in drawn and charts.FACE not in drawn


@pytest.mark.parametrize("chart", [FAN, BELIEF], ids=["fan", "belief"])
def test_what_the_pointer_reads_is_what_is_drawn(chart):
    """Page, pointer and paper differ in colours and typeface alone."""
    plain = charts.spec_of(chart, WIDE)
    themed = json.dumps(charts.themed_spec(chart, WIDE))
    assert not [colour for colour in TOKENS.values() if colour in themed]
    for token, colour in TOKENS.items():
        themed = themed.replace(f"var(--{token})", colour)
    assert json.loads(themed) == plain


def test_every_value_read_has_its_unit():
    for layer in charts.fan_spec(FAN)["layer"]:
        for said in layer.get("transform", []):
            assert said["as"] in ("Year", "Wall reading") or "' mm'" in said["calculate"]
    words = [said["calculate"] for said in charts.belief_spec(BELIEF)["layer"][-1]["transform"]]
    assert [word.rpartition("' ")[2] for word in words] == ["times'", "%'", "%'"]


@pytest.fixture
def no_pictures():
    caches["pictures"].clear()
    yield
    caches["pictures"].clear()


def test_a_chart_is_drawn_once(monkeypatch, no_pictures):
    calls = []

    def draws(spec):
        calls.append(spec)
        return "<svg ></svg>"

    monkeypatch.setattr(charts.vl_convert, "vegalite_to_svg", draws)
    for _ in range(2):
        charts.printed_svg(FAN, "Serif")
    charts.themed_svg(FAN, WIDE)
    charts.printed_svg(replace(FAN, wall=3.06), "Serif")
    charts.themed_svg(FAN, NARROW)
    assert len(calls) == 3


def test_the_colours_are_those_of_the_style_sheet():
    sheet = (settings.BASE_DIR / "registry/static/registry/style.css").read_text(encoding="utf-8")
    light = sheet[: sheet.index("prefers-color-scheme: dark")]
    for token, colour in TOKENS.items():
        assert f"--{token}: {colour};" in light


def test_bands_too_close_to_tell_apart_get_one_label():
    close = replace(FAN, low=FAN.middle, high=FAN.middle)
    for fan, count in ((FAN, 3), (close, 1)):
        ends = [row for row in values_of(charts.fan_spec(fan)) if row.get("year") == 2040.0]
        assert sum("words" in row for row in ends) == count
