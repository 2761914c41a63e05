"""A strip as SVG: classes on the page, where the style sheet decides; literal colours in print.

Hatch and dots are drawn as single paths and not as patterns, so a page of two hundred strips needs
no ids, and every renderer draws them alike.
"""

from collections.abc import Callable, Iterable, Mapping
from html import escape

from registry.kinds.meaning import MarkShape

from .layout import LANE_HEIGHT, Bar, PlacedMark, Strip

HATCH_PITCH = 6.0
DOT_PITCH = 6.0
AHEAD_SHARE = 0.4
SHAPE_RADIUS = 4.0

PRINT: Mapping[str, Mapping[str, str]] = {
    "strip-unknown": {"stroke": "#85847c"},
    "strip-axis": {"stroke": "#85847c"},
    "strip-inert": {"fill": "#0f6e6e"},
    "strip-in-doubt": {"stroke": "#a8770c", "fill": "none"},
    "strip-aerated": {"stroke": "#a4421f", "fill": "none"},
    "strip-impaired": {"fill": "#1b2430"},
    "strip-served": {"stroke": "#1b2430", "fill": "none"},
    "strip-stem": {"stroke": "#1b2430"},
    "strip-mark": {"stroke": "#1b2430", "fill": "#1b2430"},
    "strip-mark hollow": {"stroke": "#1b2430", "fill": "#ffffff"},
    "strip-letter": {"fill": "#1b2430", "text-anchor": "middle"},
    "strip-year": {"fill": "#5d6570"},
    "strip-now": {"stroke": "#1b2430", "stroke-dasharray": "2 2"},
    "strip-now-word": {"fill": "#1b2430", "text-anchor": "middle"},
}

Draw = Callable[..., str]


def strip_svg(strip: Strip, title: str, *, css_class: str = "") -> str:
    """Inline SVG for a page; its look is in the style sheet."""
    classes = f"strip {css_class}".strip()
    return _svg(strip, title, _classed, f'class="{classes}" role="img" focusable="false"')


def strip_svg_for_pdf(strip: Strip, title: str, *, font: str = "Liberation Sans") -> str:
    """A document of its own with literal colours, on white."""
    attributes = f'xmlns="http://www.w3.org/2000/svg" font-family="{font}" font-size="13"'
    return _svg(strip, title, _literal, attributes)


def _svg(strip: Strip, title: str, draw: Draw, attributes: str) -> str:
    parts = [_unknown(strip, draw)]
    parts += [_bar(bar, strip, draw) for bar in strip.bars]
    parts += [_protected(bar, strip.lane_top, draw) for bar in strip.lane]
    parts += _axis(strip, draw)
    parts += [_mark(mark, strip, draw) for mark in strip.marks]
    box = f'width="{strip.width:g}" height="{strip.height:g}"'
    view = f'viewBox="0 0 {strip.width:g} {strip.height:g}"'
    return f"<svg {attributes} {box} {view}><title>{escape(title)}</title>{''.join(parts)}</svg>"


def _classed(name: str, css_class: str, content: str = "", **attributes: object) -> str:
    return _element(name, {"class": css_class, **attributes}, content)


def _literal(name: str, css_class: str, content: str = "", **attributes: object) -> str:
    return _element(name, {**PRINT[css_class], **attributes}, content)


def _element(name: str, attributes: Mapping[str, object], content: str) -> str:
    written = " ".join(
        f'{key.replace("_", "-")}="{_number(value)}"' for key, value in attributes.items()
    )
    return f"<{name} {written}>{content}</{name}>" if content else f"<{name} {written}/>"


def _number(value: object) -> str:
    return f"{round(value, 2):g}" if isinstance(value, float) else escape(str(value))


def _unknown(strip: Strip, draw: Draw) -> str:
    if strip.unknown_until_x <= 0:
        return ""
    y = strip.bar_top + strip.bar_height / 2
    return draw("path", "strip-unknown", d=f"M0 {y:g}H{strip.unknown_until_x:g}")


def _bar(bar: Bar, strip: Strip, draw: Draw) -> str:
    height = strip.bar_height * (AHEAD_SHARE if bar.is_ahead else 1)
    box = (bar.x, strip.bar_bottom - height, bar.width, height)
    if bar.state == "inert":
        return _rectangle(draw, "strip-inert", *box)
    if bar.state == "in_doubt":
        return draw("path", "strip-in-doubt", d=_hatch(*box), stroke_width=1.6)
    outline = _rectangle(draw, "strip-aerated", *_inset(*box), stroke_width=1.2)
    dots = _dots(*box)
    if not dots:
        return outline
    return outline + draw("path", "strip-aerated", d=dots, stroke_width=2, stroke_linecap="round")


def _protected(bar: Bar, top: float, draw: Draw) -> str:
    """A rail while in service, a full block while out, dashes where it is not known."""
    if bar.state == "impaired":
        return _rectangle(draw, "strip-impaired", bar.x, top, bar.width, LANE_HEIGHT)
    path = {"d": f"M{bar.x:g} {top + LANE_HEIGHT / 2:g}h{bar.width:g}"}
    dashes = {} if bar.state == "in_service" else {"stroke_dasharray": "2 5"}
    return draw("path", "strip-served", **path, stroke_width=2, **dashes)


def protection_sample(state: str) -> str:
    """One state of the lane under the band, for the key beside its word."""
    drawn = _protected(Bar(state, 0.0, 28.0, False), 0.0, _classed)
    size = f'width="28" height="{LANE_HEIGHT:g}" viewBox="0 0 28 {LANE_HEIGHT:g}"'
    return f'<svg class="strip-sample" aria-hidden="true" focusable="false" {size}>{drawn}</svg>'


def _rectangle(
    draw: Draw, css_class: str, x: float, y: float, width: float, height: float, **more: object
) -> str:
    return draw("rect", css_class, x=x, y=y, width=width, height=height, **more)


def _inset(x: float, y: float, width: float, height: float) -> tuple[float, float, float, float]:
    return x + 0.6, y + 0.6, max(width - 1.2, 0.1), max(height - 1.2, 0.1)


def _hatch(x: float, y: float, width: float, height: float) -> str:
    """Slanting lines cut at the box, on a grid of the whole strip so that neighbours line up.

    Base and top line close the figure: a hatch alone would leave the ends of the span unclear.
    """
    first = int((x - height) // HATCH_PITCH)
    last = int((x + width) // HATCH_PITCH)
    lines = []
    for foot in (HATCH_PITCH * n for n in range(first, last + 1)):
        low, high = max(0.0, x - foot), min(height, x + width - foot)
        if low < high:
            lines.append(
                f"M{foot + low:g} {y + height - low:g}L{foot + high:g} {y + height - high:g}"
            )
    edges = f"M{x:g} {y + 0.8:g}h{width:g}M{x:g} {y + height - 0.8:g}h{width:g}"
    return edges + "".join(lines)


def _dots(x: float, y: float, width: float, height: float) -> str:
    """Dots as strokes without length; the round cap draws them."""
    first = int((x + 2.5) // DOT_PITCH) + 1
    last = int((x + width - 2.5) // DOT_PITCH)
    rows = max(round((height - 4) / DOT_PITCH), 1)
    pitch = height / (rows + 1)
    return "".join(
        f"M{DOT_PITCH * n:g} {y + pitch * row:g}h0"
        for n in range(first, last + 1)
        for row in range(1, rows + 1)
    )


def _axis(strip: Strip, draw: Draw) -> Iterable[str]:
    y = strip.axis_top
    for tick in strip.ticks:
        yield draw("path", "strip-axis", d=f"M{tick.x:g} {y + 2:g}v6")
        if tick.label:
            yield draw("text", "strip-year", tick.label, x=tick.x + 4, y=y + 18)
    if strip.now_x is None or strip.height - y < 10:
        return
    top = max(strip.bar_top - 4, 0)
    yield draw("path", "strip-now", d=f"M{strip.now_x:g} {top:g}V{y + 6:g}")
    word_x = min(max(strip.now_x, 18), strip.width - 18)
    yield draw("text", "strip-now-word", strip.now_word, x=word_x, y=y + 18)


def _mark(mark: PlacedMark, strip: Strip, draw: Draw) -> str:
    has_room = strip.bar_top > SHAPE_RADIUS * 2
    radius = SHAPE_RADIUS if has_room else 2.0
    y = strip.bar_top - radius - 1
    shape = _shape(mark.shape, min(max(mark.x, radius), strip.width - radius), y, radius, draw)
    letter = ""
    if has_room and mark.letter and mark.level is not None:
        letter = _letter(mark, y - radius - 3, strip, draw)
    return f"<g><title>{escape(mark.title)}</title>{letter}{shape}</g>"


def _letter(mark: PlacedMark, foot: float, strip: Strip, draw: Draw) -> str:
    y = foot - 15.0 * (mark.level or 0)
    stem = ""
    if mark.level:
        stem = draw("path", "strip-stem", d=f"M{mark.x:g} {y + 3:g}V{foot + 3:g}")
    x = min(max(mark.x, 5.0), strip.width - 5.0)
    return stem + draw("text", "strip-letter", mark.letter, x=x, y=y)


def _shape(shape: MarkShape, x: float, y: float, r: float, draw: Draw) -> str:
    if shape is MarkShape.READING:
        return draw("circle", "strip-mark hollow", cx=x, cy=y, r=r * 0.75)
    if shape is MarkShape.WORK:
        return draw("path", "strip-stem", d=f"M{x:g} {y - r:g}v{2 * r:g}", stroke_width=2)
    if shape is MarkShape.BREACH:
        return draw("path", "strip-mark", d=f"M{x - r:g} {y - r:g}h{2 * r:g}L{x:g} {y + r:g}z")
    d = f"M{x:g} {y - r:g}L{x + r:g} {y:g} {x:g} {y + r:g} {x - r:g} {y:g}z"
    return draw("path", "strip-mark", d=d)
