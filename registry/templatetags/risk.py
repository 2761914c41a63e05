"""How scores, lives and depths are worded on every page and in every table."""

from typing import Protocol

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from registry.corrosion.assess import HORIZONS
from registry.models import Assessment
from registry.templatetags.units import units_of
from registry.words.spoken import numeral

register = template.Library()


class HasLife(Protocol):
    """An assessment, or a system listed with what its latest one says."""

    @property
    def life_low_yr(self) -> float | None: ...

    @property
    def life_high_yr(self) -> float | None: ...


BEYOND = HORIZONS[-1]
UM_PER_MIL = 25.4
LEAST_SHOWN = 0.1


@register.simple_tag
def score_chip(score: float | None, band: str) -> SafeString:
    """The number and the word of its band, never one without the other."""
    if score is None:
        return format_html('<span class="empty">{}</span>', gettext("no score"))
    label = Assessment.Band(band).label.lower()
    return format_html(
        '<span class="score score-{}"><strong>{}</strong> {}</span>', band, points(score), label
    )


@register.filter
def points(score: float) -> str:
    """A score as printed: nothing that is above zero reads 0, nothing below a hundred reads 100."""
    if 0 < score < LEAST_SHOWN:
        return numeral(f"<{LEAST_SHOWN}")
    if 100 - LEAST_SHOWN < score < 100:
        return numeral(f">{100 - LEAST_SHOWN}")
    return f"{score:.0f}" if score >= 99.95 or score == 0 else numeral(f"{score:.1f}")


@register.filter
def signed(value: float, digits: int = 1) -> str:
    """With a sign that is not a hyphen."""
    text = f"{value:+.{digits}f}"
    return "0" if float(text) == 0 else numeral(text.replace("-", "\u2212"))


@register.filter
def lost(days: float) -> str:
    """Whole days; what was gained has a minus."""
    return numeral(f"{days:,.0f}".replace("-", "\u2212")) if abs(days) >= 0.5 else "0"


@register.filter
def chance(probability: float) -> str:
    percent = 100 * max(0.0, probability)  # a difference may end a rounding below nought
    if 0 < percent < LEAST_SHOWN:
        return gettext("below {least} %").format(least=numeral(f"{LEAST_SHOWN}"))
    if 100 - LEAST_SHOWN < percent < 100:
        return gettext("above 99.9 %")
    return numeral(f"{percent:.0f}\u00a0%" if percent >= 10 else f"{percent:.1f}\u00a0%")


@register.filter
def life(years: float) -> str:
    if years >= BEYOND:
        return gettext("over {years}").format(years=f"{BEYOND:.0f}")
    if years < LEAST_SHOWN:
        return numeral(f"<{LEAST_SHOWN}")
    return numeral(f"{years:.0f}" if years >= 10 else f"{years:.1f}")


@register.filter
def life_band(row: HasLife) -> str:
    low, high = row.life_low_yr, row.life_high_yr
    if low is None or high is None:
        return gettext("not known")
    return gettext("{low} to {high}").format(low=life(low), high=life(high))


@register.simple_tag(takes_context=True)
def depth(context: template.Context, micrometres: float) -> SafeString:
    """Micrometres, or mils for a person who reads inches."""
    request = context.get("request")
    return depth_html(micrometres, units_of(getattr(request, "user", None)))


def depth_html(micrometres: float, units: str) -> SafeString:
    return format_html('{}\u00a0<span class="unit">{}</span>', *_depth_parts(micrometres, units))


def depth_text(micrometres: float, units: str) -> str:
    """The same words without the mark-up, for paper."""
    return "\u00a0".join(_depth_parts(micrometres, units))


def _depth_parts(micrometres: float, units: str) -> tuple[str, str]:
    value, unit = (micrometres, "µm") if units == "si" else (micrometres / UM_PER_MIL, "mil")
    return _digits(value), unit


def _digits(value: float) -> str:
    if value >= 100:
        return f"{value:.0f}"
    return numeral(f"{value:.1f}" if value >= 1 else f"{value:.2f}")


@register.filter
def model_number(value: float) -> str:
    """As short as it can be without saying anything else: four digits."""
    return numeral(f"{value:.4g}")


@register.filter
def drawing(svg: str) -> SafeString:
    """A drawing made by this program from numbers and its own words alone."""
    return mark_safe(svg)  # noqa: S308  # nosec B308
