"""Dataclasses -> chart specifications, and specifications -> SVG. No queries here.

One specification serves page and print. Colours are those of the light theme; on a page each is
replaced by its token, so that the same picture follows the reader's theme.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert
from django.core.cache import cache

TOKENS = {
    "paper": "#fbfaf7",
    "ink": "#1b2430",
    "grey": "#5d6570",
    "rule": "#d9d5cb",
    "aerated": "#a4421f",
    "inert": "#0f6e6e",
}
WIDE, NARROW = (640, 250), (290, 230)
LABEL_ROOM = 0.15  # of the height, below which three labels would overlap
CODE = sha256(Path(__file__).read_bytes()).hexdigest()
KEPT_S = 7 * 24 * 3600
Spec = dict[str, Any]


@dataclass(frozen=True)
class FanChart:
    """Wall lost on one run over time, in the reader's unit; the bands are 10, 50 and 90 %."""

    years: Sequence[float]
    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]
    now_year: float
    wall: float
    measured: Sequence[tuple[float, float, float]]  # year, lost, error
    unit: str


@dataclass(frozen=True)
class BeliefChart:
    theta: Sequence[float]
    prior: Sequence[float]
    posterior: Sequence[float]


def fan_spec(fan: FanChart, size: tuple[int, int] = WIDE) -> Spec:
    rows = [
        {"year": year, "low": low, "middle": middle, "high": high}
        for year, low, middle, high in zip(fan.years, fan.low, fan.middle, fan.high, strict=True)
    ]
    shown = max([*fan.high, *(lost + error for _, lost, error in fan.measured)], default=0.0)
    top = max(fan.wall * 1.08, shown)
    base = alt.Chart(alt.Data(values=rows))
    x = alt.X(
        "year:Q",
        title=None,
        axis=alt.Axis(format="d", tickCount=size[0] // 90),
        scale=alt.Scale(domain=[fan.years[0], fan.years[-1]], nice=False),
    )
    y = alt.Y("low:Q", title=f"Wall lost, {fan.unit}", scale=alt.Scale(domain=[0, top], nice=False))
    layers = [
        base.mark_area(color=TOKENS["aerated"], opacity=0.22).encode(x=x, y=y, y2="high:Q"),
        base.mark_line(color=TOKENS["aerated"], strokeWidth=2).encode(x=x, y="middle:Q"),
        _level(fan.wall, f"the whole wall, {fan.wall:.3g} {fan.unit}", fan.years[0]),
        *_today(fan.now_year),
        *_ends(rows[-1], size, top),
    ]
    if fan.measured:
        layers += _readings(fan.measured)
    return _finished(alt.layer(*layers), size)


def _level(level: float, words: str, left: float) -> alt.LayerChart:
    data = alt.Data(values=[{"level": level, "words": words, "left": left}])
    rule = alt.Chart(data).mark_rule(color=TOKENS["ink"]).encode(y="level:Q")
    text = alt.Chart(data).mark_text(align="left", baseline="top", dx=4, dy=4, color=TOKENS["ink"])
    return rule + text.encode(x="left:Q", y="level:Q", text="words:N")


def _today(year: float) -> list[alt.Chart]:
    data = alt.Data(values=[{"year": year, "at": 0, "words": "today"}])
    rule = alt.Chart(data).mark_rule(color=TOKENS["grey"], strokeDash=[4, 3]).encode(x="year:Q")
    text = alt.Chart(data).mark_text(
        align="right", baseline="bottom", dx=-4, dy=-4, color=TOKENS["grey"]
    )
    return [rule, text.encode(x="year:Q", y="at:Q", text="words:N")]


def _ends(last: dict[str, float], size: tuple[int, int], top: float) -> list[alt.Chart]:
    """Direct labels at the right edge; of bands too close to tell apart only the median's."""
    words = {"low": "1 in 10 less", "middle": "median", "high": "1 in 10 more"}
    if size[0] < WIDE[0]:
        words = {"low": "10 %", "middle": "50 %", "high": "90 %"}
    if last["high"] - last["low"] < LABEL_ROOM * top:
        words = {"middle": words["middle"]}
    values = [{"year": last["year"], "at": last[part], "words": words[part]} for part in words]
    text = alt.Chart(alt.Data(values=values)).mark_text(
        align="left", dx=5, color=TOKENS["ink"], baseline="middle"
    )
    return [text.encode(x="year:Q", y="at:Q", text="words:N")]


def _readings(measured: Sequence[tuple[float, float, float]]) -> list[alt.Chart]:
    values = [
        {"year": year, "lost": lost, "from": max(lost - error, 0.0), "to": lost + error}
        for year, lost, error in measured
    ]
    base = alt.Chart(alt.Data(values=values))
    bars = base.mark_rule(color=TOKENS["ink"]).encode(x="year:Q", y="from:Q", y2="to:Q")
    points = base.mark_point(
        shape="diamond", filled=True, size=70, color=TOKENS["ink"], opacity=1
    ).encode(x="year:Q", y="lost:Q")
    return [bars, points]


def belief_spec(belief: BeliefChart, size: tuple[int, int] = WIDE) -> Spec:
    """Both curves on nodes equally spaced in the logarithm, so that weights compare as drawn."""
    rows = [
        {"theta": theta, "prior": prior, "posterior": posterior}
        for theta, prior, posterior in zip(
            belief.theta, belief.prior, belief.posterior, strict=True
        )
    ]
    base = alt.Chart(alt.Data(values=rows))
    x = alt.X(
        "theta:Q",
        title="times the depth the oxygen ledger expects",
        scale=alt.Scale(type="log", domain=[belief.theta[0], belief.theta[-1]], nice=False),
        axis=alt.Axis(values=[0.2, 0.5, 1, 2, 5], format="~g"),
    )
    hidden = alt.Axis(labels=False, ticks=False, grid=False)
    y = alt.Y("prior:Q", title=None, axis=hidden)
    prior = base.mark_area(color=TOKENS["grey"], opacity=0.25, clip=True)
    posterior = base.mark_line(color=TOKENS["aerated"], strokeWidth=2, clip=True)
    layers = [
        prior.encode(x=x, y=y),
        posterior.encode(x=x, y="posterior:Q"),
        _peak(rows, "prior", "before evidence", TOKENS["grey"]),
        _peak(rows, "posterior", "with evidence", TOKENS["aerated"]),
    ]
    return _finished(alt.layer(*layers), (size[0], 150))


def _peak(rows: list[dict[str, float]], part: str, words: str, color: str) -> alt.Chart:
    peak = max(rows, key=lambda row: row[part])
    value = {"theta": min(peak["theta"], 2.5), "at": peak[part], "words": words}
    text = alt.Chart(alt.Data(values=[value])).mark_text(
        align="left", dx=8, baseline="bottom", color=color
    )
    return text.encode(x="theta:Q", y="at:Q", text="words:N")


def _finished(chart: alt.LayerChart, size: tuple[int, int]) -> Spec:
    face = "system-ui, sans-serif"
    return (
        chart.properties(width=size[0], height=size[1], background="transparent")
        .configure(font=face, aria=False, padding={"left": 2, "right": 8, "top": 6, "bottom": 2})
        .configure_view(stroke=None)
        .configure_text(fontSize=12)
        .configure_axis(
            labelColor=TOKENS["grey"],
            titleColor=TOKENS["grey"],
            gridColor=TOKENS["rule"],
            domainColor=TOKENS["rule"],
            tickColor=TOKENS["rule"],
            labelFontSize=12,
            titleFontSize=12,
            titleFontWeight="normal",
        )
        .to_dict(validate=False)
    )


def svg(make: Callable[..., Spec], chart: FanChart | BeliefChart, size: tuple[int, int]) -> str:
    """The picture as it prints. Kept by its data and by this code: making it takes half a second,
    most of it the specification."""
    key = sha256(f"{CODE} {make.__name__} {size} {chart!r}".encode()).hexdigest()
    return cache.get_or_set(
        f"chart:{key}", lambda: vl_convert.vegalite_to_svg(make(chart, size)), KEPT_S
    )


def themed_svg(
    make: Callable[..., Spec], chart: FanChart | BeliefChart, size: tuple[int, int]
) -> str:
    """The picture for a page: hidden from readers, who get its sentence and its numbers."""
    drawn = svg(make, chart, size)
    for token, colour in TOKENS.items():
        drawn = drawn.replace(f'"{colour}"', f'"var(--{token})"')
    return drawn.replace("<svg ", '<svg aria-hidden="true" focusable="false" ', 1)
