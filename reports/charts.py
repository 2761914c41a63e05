"""Dataclasses -> chart specifications, and specifications -> SVG. No queries here.

One specification serves page, pointer and print. Colours are those of the light theme; on a page
each is replaced by its token, so that the same picture follows the reader's theme.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

import altair as alt
import vl_convert
from django.core.cache import caches
from django.utils.translation import gettext

from registry.words.spoken import Number, language

TOKENS = {
    "paper": "#fbfaf7",
    "ink": "#1b2430",
    "grey": "#5d6570",
    "rule": "#d9d5cb",
    "aerated": "#a4421f",
    "inert": "#0f6e6e",
}
FACE = "system-ui, sans-serif"
WIDE, NARROW = (640, 250), (290, 230)
LABEL_ROOM = 0.15  # of the height, below which three labels would overlap
CODE = sha256(Path(__file__).read_bytes()).hexdigest()
KEPT_S = 7 * 24 * 3600
NUMBERS = {
    "es": {"decimal": ",", "thousands": "\u00a0", "grouping": [3], "currency": ["", "\u00a0€"]}
}
"""How the picture writes numbers, in the words of d3-format; English is what it does unasked."""
Spec = dict[str, Any]
Rows = list[dict[str, float]]
Layer = alt.Chart | alt.LayerChart


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
    rows: Rows = [
        {"year": round(year, 3), "low": _short(low), "middle": _short(middle), "high": _short(high)}
        for year, low, middle, high in zip(fan.years, fan.low, fan.middle, fan.high, strict=True)
    ]
    shown = max([*fan.high, *(lost + error for _, lost, error in fan.measured)], default=0.0)
    top = max(fan.wall * 1.08, shown)
    base = alt.Chart()
    x = alt.X(
        "year:Q",
        title=None,
        axis=alt.Axis(format="d", tickCount=size[0] // 90),
        scale=alt.Scale(domain=[fan.years[0], fan.years[-1]], nice=False),
    )
    y = alt.Y(
        "low:Q",
        title=gettext("Wall lost, {unit}").format(unit=fan.unit),
        scale=alt.Scale(domain=[0, top], nice=False),
    )
    layers = [
        base.mark_area(color=TOKENS["aerated"], opacity=0.22).encode(x, y, alt.Y2("high:Q")),
        base.mark_line(color=TOKENS["aerated"], strokeWidth=2).encode(x, alt.Y("middle:Q")),
        _level(
            fan.wall,
            gettext("the whole wall, {wall:.3g} {unit}").format(
                wall=Number(fan.wall), unit=fan.unit
            ),
            fan.years[0],
        ),
        *_today(fan.now_year),
        *_ends(rows[-1], size, top),
        _columns("year", size[0] / len(rows), _fan_words(fan.unit)),
    ]
    if fan.measured:
        layers.append(_readings(fan))
    return _finished(layers, rows, size)


def _level(level: float, words: str, left: float) -> alt.LayerChart:
    data = alt.Data(values=[{"level": level, "words": words, "left": left}])
    rule = alt.Chart(data).mark_rule(color=TOKENS["ink"]).encode(alt.Y("level:Q"))
    text = alt.Chart(data).mark_text(align="left", baseline="top", dx=4, dy=4, color=TOKENS["ink"])
    return rule + text.encode(alt.X("left:Q"), alt.Y("level:Q"), alt.Text("words:N"))


def _today(year: float) -> list[alt.Chart]:
    data = alt.Data(values=[{"year": year, "at": 0, "words": gettext("today")}])
    rule = (
        alt.Chart(data).mark_rule(color=TOKENS["grey"], strokeDash=[4, 3]).encode(alt.X("year:Q"))
    )
    text = alt.Chart(data).mark_text(
        align="right", baseline="bottom", dx=-4, dy=-4, color=TOKENS["grey"]
    )
    return [rule, text.encode(alt.X("year:Q"), alt.Y("at:Q"), alt.Text("words:N"))]


def _ends(last: dict[str, float], size: tuple[int, int], top: float) -> list[alt.Chart]:
    """Direct labels at the right edge; of bands too close to tell apart only the median's."""
    words = {
        "low": gettext("1 in 10 less"),
        "middle": gettext("median"),
        "high": gettext("1 in 10 more"),
    }
    if size[0] < WIDE[0]:
        words = {"low": "10 %", "middle": "50 %", "high": "90 %"}
    if last["high"] - last["low"] < LABEL_ROOM * top:
        words = {"middle": words["middle"]}
    values = [{"year": last["year"], "at": last[part], "words": words[part]} for part in words]
    text = alt.Chart(alt.Data(values=values)).mark_text(
        align="left", dx=5, color=TOKENS["ink"], baseline="middle"
    )
    return [text.encode(alt.X("year:Q"), alt.Y("at:Q"), alt.Text("words:N"))]


def _readings(fan: FanChart) -> alt.LayerChart:
    values = [
        {"year": year, "lost": lost, "from": max(lost - error, 0.0), "to": lost + error}
        for year, lost, error in fan.measured
    ]
    said = {
        gettext("Wall reading"): "'' + floor(datum.year)",
        gettext("Lost"): _amount("lost", fan.unit),
        gettext("Between"): f"{_amount('from', fan.unit)} + ' – ' + {_amount('to', fan.unit)}",
    }
    base = alt.Chart(alt.Data(values=values)).transform_calculate(**said)
    tooltip = [alt.Tooltip(name, type="nominal") for name in said]
    bars = base.mark_rule(color=TOKENS["ink"]).encode(
        alt.X("year:Q"), alt.Y("from:Q"), alt.Y2("to:Q")
    )
    points = base.mark_point(
        shape="diamond", filled=True, size=70, color=TOKENS["ink"], opacity=1
    ).encode(alt.X("year:Q"), alt.Y("lost:Q"), tooltip=tooltip)
    return bars + points


def _fan_words(unit: str) -> dict[str, str]:
    return {
        gettext("Year"): "'' + floor(datum.year)",
        gettext("1 in 10 less"): _amount("low", unit),
        gettext("Median"): _amount("middle", unit),
        gettext("1 in 10 more"): _amount("high", unit),
    }


def _amount(part: str, unit: str) -> str:
    digits = 2 if unit == "mm" else 3
    return f"format(datum['{part}'], '.{digits}f') + ' {unit}'"


def _columns(x: str, width: float, words: dict[str, str]) -> alt.Chart:
    """Unseen until pointed at: a column over each row of the data, which says its values."""
    pointed = alt.selection_point(
        name="pointed", on="pointerover", clear="pointerout", empty=False, toggle=False
    )
    return (
        alt.Chart()
        .transform_calculate(**words)
        .mark_rule(color=TOKENS["ink"], strokeWidth=width)
        .encode(
            alt.X(f"{x}:Q"),
            opacity=alt.condition(pointed, alt.value(0.15), alt.value(0)),
            tooltip=[alt.Tooltip(name, type="nominal") for name in words],
        )
        .add_params(pointed)
        .properties(name="columns")
    )


def _short(value: float) -> float:
    """Five digits: more than a picture can show, and half the page."""
    return float(f"{value:.5g}")


def _belief_words() -> dict[str, str]:
    return {
        gettext("As deep as expected"): f"format(datum.theta, '.2f') + ' {gettext('times')}'",
        gettext("Chance before evidence"): "format(100 * datum.prior, '.1f') + ' %'",
        gettext("Chance with evidence"): "format(100 * datum.posterior, '.1f') + ' %'",
    }


def belief_spec(belief: BeliefChart, size: tuple[int, int] = WIDE) -> Spec:
    """Both curves on nodes equally spaced in the logarithm, so that weights compare as drawn."""
    rows: Rows = [
        {"theta": _short(theta), "prior": _short(prior), "posterior": _short(posterior)}
        for theta, prior, posterior in zip(
            belief.theta, belief.prior, belief.posterior, strict=True
        )
    ]
    base = alt.Chart()
    x = alt.X(
        "theta:Q",
        title=gettext("times the depth the oxygen ledger expects"),
        scale=alt.Scale(type="log", domain=[rows[0]["theta"], rows[-1]["theta"]], nice=False),
        axis=alt.Axis(values=[0.2, 0.5, 1, 2, 5], format="~g"),
    )
    hidden = alt.Axis(labels=False, ticks=False, grid=False)
    y = alt.Y("prior:Q", title=None, axis=hidden)
    prior = base.mark_area(color=TOKENS["grey"], opacity=0.25, clip=True)
    posterior = base.mark_line(color=TOKENS["aerated"], strokeWidth=2, clip=True)
    layers = [
        prior.encode(x, y),
        posterior.encode(x, alt.Y("posterior:Q")),
        _peak(rows, "prior", gettext("before evidence"), TOKENS["grey"]),
        _peak(rows, "posterior", gettext("with evidence"), TOKENS["aerated"]),
        _columns("theta", size[0] / len(rows), _belief_words()),
    ]
    return _finished(layers, rows, (size[0], 150))


def _peak(rows: Rows, part: str, words: str, color: str) -> alt.Chart:
    peak = max(rows, key=lambda row: row[part])
    value = {"theta": min(peak["theta"], 2.5), "at": peak[part], "words": words}
    text = alt.Chart(alt.Data(values=[value])).mark_text(
        align="left", dx=8, baseline="bottom", color=color
    )
    return text.encode(alt.X("theta:Q"), alt.Y("at:Q"), alt.Text("words:N"))


def _finished(layers: Sequence[Layer], rows: Rows, size: tuple[int, int]) -> Spec:
    """All at once, and the rows last: altair copies a chart, with what it holds, at every step."""
    chart = alt.layer(
        *layers,
        data=alt.NamedData("rows"),
        width=size[0],
        height=size[1],
        background="transparent",
        config=_config(),
    )
    spec: Spec = chart.to_dict(validate=False) | {"data": {"values": rows}}
    if numbers := NUMBERS.get(language()):
        spec["config"]["locale"] = {"number": numbers}
    return spec


def _config() -> alt.Config:
    return alt.Config(
        font=FACE,
        aria=False,
        padding={"left": 2, "right": 8, "top": 6, "bottom": 2},
        view=alt.ViewConfig(stroke=None),
        text=alt.MarkConfig(fontSize=12),
        axis=alt.AxisConfig(
            labelColor=TOKENS["grey"],
            titleColor=TOKENS["grey"],
            gridColor=TOKENS["rule"],
            domainColor=TOKENS["rule"],
            tickColor=TOKENS["rule"],
            labelFontSize=12,
            titleFontSize=12,
            titleFontWeight="normal",
        ),
    )


class Drawn(NamedTuple):
    spec: Spec
    svg: str


def drawn(chart: FanChart | BeliefChart, size: tuple[int, int]) -> Drawn:
    """Kept by its data, its language and this code: making it takes as long as all the page."""
    shown = f"{CODE} {language()} {size} {chart!r}"
    key = f"chart:{sha256(shown.encode()).hexdigest()}"
    kept = caches["pictures"].get(key)
    if kept is None:
        spec = spec_of(chart, size)
        kept = Drawn(spec, vl_convert.vegalite_to_svg(spec))
        caches["pictures"].set(key, kept, KEPT_S)
    return kept


def spec_of(chart: FanChart | BeliefChart, size: tuple[int, int]) -> Spec:
    return fan_spec(chart, size) if isinstance(chart, FanChart) else belief_spec(chart, size)


def printed_svg(chart: FanChart | BeliefChart, typeface: str) -> str:
    """The picture for paper, in the colours of the light theme and the typeface of the paper."""
    return drawn(chart, WIDE).svg.replace(FACE, typeface)


def themed_svg(chart: FanChart | BeliefChart, size: tuple[int, int]) -> str:
    """The picture for a page: hidden from readers, who get its sentence and its numbers."""
    themed = _themed(drawn(chart, size).svg)
    return themed.replace("<svg ", '<svg aria-hidden="true" focusable="false" ', 1)


def themed_spec(chart: FanChart | BeliefChart, size: tuple[int, int]) -> Spec:
    return json.loads(_themed(json.dumps(drawn(chart, size).spec)))


def _themed(text: str) -> str:
    for token, colour in TOKENS.items():
        text = text.replace(f'"{colour}"', f'"var(--{token})"')
    return text
