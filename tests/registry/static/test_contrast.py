"""Colours of the style sheet against WCAG 2.2: 1.4.3 text 4.5 : 1, 1.4.11 shapes 3 : 1."""

import re
from pathlib import Path

import pytest

from registry.strip import PRINT

FOLDER = Path(__file__).parents[3] / "registry"
CSS = (FOLDER / "static" / "registry" / "style.css").read_text()
HEX = re.compile(r"#[0-9a-f]{6}\b")
BANDS = ("leave", "watch", "plan", "act")

TEXT_ON_GROUND = [
    *[(words, ground) for words in ("ink", "grey") for ground in ("paper", "sunk")],
    ("paper", "ink"),  # buttons
    ("late-ink", "late"),
    *[(f"score-{band}-ink", f"score-{band}") for band in BANDS],
]
SHAPES = ("inert", "in-doubt", "aerated", "edge", "ink")


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 definitions (W3C Recommendation)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def tokens(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", block))


ROOTS = re.findall(r":root\s*\{([^}]*)\}", CSS)
LIGHT, DARK = tokens(ROOTS[0]), tokens(ROOTS[1])
THEMES = {"light": LIGHT, "dark": DARK, "print": LIGHT | tokens(ROOTS[2])}


@pytest.fixture(params=THEMES)
def theme(request):
    return THEMES[request.param]


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("#000000", "#ffffff", 21.0),  # the greatest ratio there is, by the definition
        ("#767676", "#ffffff", 4.54),  # the lightest grey that passes 4.5 on white
        ("#777777", "#ffffff", 4.48),  # and the first that fails
    ],
)
def test_the_formula_gives_the_ratios_known_for_greys(one, other, expected):
    assert round(contrast(one, other), 2) == expected


@pytest.mark.parametrize(("words", "ground"), TEXT_ON_GROUND)
def test_text_stands_out_from_its_ground_in_every_theme(theme, words, ground):
    assert contrast(theme[words], theme[ground]) >= 4.5


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("ground", ["paper", "sunk"])
def test_shapes_stand_out_from_the_ground_in_every_theme(theme, shape, ground):
    assert contrast(theme[shape], theme[ground]) >= 3


def test_night_has_a_colour_for_every_token_of_the_day():
    assert DARK.keys() == LIGHT.keys()


def test_a_score_deepens_from_band_to_band_by_day_and_glows_by_night():
    by_day = [luminance(LIGHT[f"score-{band}"]) for band in BANDS]
    by_night = [luminance(DARK[f"score-{band}"]) for band in BANDS]
    assert by_day == sorted(by_day, reverse=True)
    assert by_night == sorted(by_night)


def test_every_token_that_is_used_is_defined():
    defined = set(re.findall(r"(--[a-z-]+):", CSS))
    assert set(re.findall(r"var\((--[a-z-]+)\)", CSS)) <= defined


def test_colours_stand_only_in_the_tokens():
    outside = CSS
    for root in ROOTS:
        outside = outside.replace(root, "")
    assert HEX.findall(outside) == []


def test_the_strip_on_paper_uses_the_colours_of_the_page():
    drawn = {
        name: style.get("fill") if name == "strip-inert" else style.get("stroke")
        for name, style in PRINT.items()
    }
    assert drawn["strip-inert"] == LIGHT["inert"]
    assert drawn["strip-in-doubt"] == LIGHT["in-doubt"]
    assert drawn["strip-aerated"] == LIGHT["aerated"]


@pytest.mark.parametrize(
    "template", sorted(FOLDER.rglob("templates/**/*.html")), ids=lambda path: path.name
)
def test_a_template_has_nothing_that_the_content_policy_forbids(template):
    """Style attributes, handlers, and scripts without a source are blocked by the browser."""
    text = template.read_text()
    assert re.findall(r"\sstyle=|\son[a-z]+=|javascript:", text) == []
    assert re.findall(r"<script(?![^>]*(src=|application/json))|<style", text) == []
