"""Words and figures of inerting runs in templates."""

from datetime import datetime
from math import isinf

from django import template
from django.utils import timezone
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from registry.corrosion.inerting import InertingPlan, Notice
from registry.quantities import PSI, format_quantity
from registry.runs.planning import notice_text
from registry.templatetags.units import units_of
from registry.words.spoken import Number, numeral

register = template.Library()

CUBIC_FEET_PER_M3 = 35.31466672
DAY_S, HOUR_S = 86_400, 3_600
WIDTH, ROW, LEFT, RIGHT = 600, 34, 60, 70


@register.filter
def chance(probability: float) -> str:
    """A probability in words where a figure would claim too much."""
    if probability < 0.01:
        return gettext("hardly")
    return gettext("nearly sure") if probability > 0.99 else f"{100 * probability:.0f} %"


@register.filter
def share(fraction: float) -> str:
    return numeral(f"{100 * fraction:.1f}\u00a0%")


@register.simple_tag(takes_context=True)
def gas(context: template.Context, standard_m3: float) -> SafeString:
    """Nitrogen as it is sold: standard cubic feet or cubic metres."""
    user = getattr(context.get("request"), "user", None)
    if units_of(user) == "us":
        number, unit = f"{standard_m3 * CUBIC_FEET_PER_M3:,.0f}", gettext("standard ft³")
    else:
        number, unit = f"{standard_m3:,.1f}", gettext("standard m3")
    return format_html('{}\u00a0<span class="unit">{}</span>', numeral(number), unit)


@register.filter
def recovery(seconds: float) -> str:
    if isinf(seconds):
        return gettext("never: the generator's gas does not reach the target")
    if seconds >= 2 * DAY_S:
        return gettext("about {DAY_S:.0f} days of sweeping through an open vent").format(
            DAY_S=seconds / DAY_S
        )
    return gettext("about {HOUR_S} h of sweeping through an open vent").format(
        HOUR_S=max(1, round(seconds / HOUR_S))
    )


@register.simple_tag
def elapsed(since: datetime, until: datetime | None = None) -> SafeString:
    """A clock that a script keeps running; without it, the time when the page was made."""
    minutes = int(((until or timezone.now()) - since).total_seconds() // 60)
    words = f"{minutes // 60}:{minutes % 60:02d}"
    ticking = "" if until else format_html(' data-since="{}"', since.isoformat())
    return format_html('<time{}>{}</time> <span class="unit">h:min</span>', ticking, words)


@register.simple_tag(takes_context=True)
def pressure_words(context: template.Context, pascal: float) -> str:
    user = getattr(context.get("request"), "user", None)
    return format_quantity(pascal, "pressure", units_of(user))


@register.simple_tag(takes_context=True)
def pressure_step(context: template.Context, psi: float) -> str:
    """A rule of thumb that the trade gives in psi, in the units of the reader."""
    user = getattr(context.get("request"), "user", None)
    if units_of(user) == "us":
        return numeral(f"{psi:g} psi")
    return format_quantity(psi * PSI, "pressure_difference", "si")


@register.simple_tag(takes_context=True)
def notice_words(context: template.Context, notice: Notice, plan: InertingPlan) -> str:
    """What the planner refuses or warns of, its pressures in the units of the reader."""
    user = getattr(context.get("request"), "user", None)
    return notice_text(notice, plan.inputs, units_of(user))


@register.simple_tag
def bands(plan: InertingPlan) -> SafeString:
    """The readings to expect, fill by fill, against the target: a picture of the table below it."""
    target = plan.inputs.target_n2_percent
    floor = min(90.0, 5 * (min(fill.low for fill in plan.fills) // 5))

    def x(n2_percent: float) -> float:
        return round(LEFT + (WIDTH - LEFT - RIGHT) * (n2_percent - floor) / (100 - floor), 1)

    def named(number: int) -> str:
        return escape(gettext("Fill {number}").format(number=number))

    accepted = escape(gettext("accept at {target} %").format(target=numeral(f"{target:g}")))
    height = ROW * len(plan.fills) + 28
    rows = [
        f'<text class="bands-word" x="0" y="{ROW * n + 26}">{named(fill.fill)}</text>'
        f'<rect class="bands-band" x="{x(fill.low)}" y="{ROW * n + 14}" '
        f'width="{max(2, round(x(fill.high) - x(fill.low), 1))}" height="14"/>'
        f'<rect class="bands-median" x="{x(fill.n2_percent) - 1.5:.1f}" y="{ROW * n + 10}" '
        f'width="3" height="22"/>'
        f'<text class="bands-word" text-anchor="end" x="{WIDTH}" y="{ROW * n + 26}">'
        f"{numeral(f'{fill.n2_percent:.1f}')} %</text>"
        for n, fill in enumerate(plan.fills)
    ]
    line = (
        f'<path class="bands-target" d="M{x(target)} 4V{height - 22}"/>'
        f'<text class="bands-word" text-anchor="middle" x="{x(target)}" y="{height - 6}">'
        f"{accepted}</text>"
    )
    words = gettext(
        "Predicted nitrogen after each fill against the target of {target:g} percent"
    ).format(target=Number(target))
    return mark_safe(  # nosec B308
        f'<svg class="bands" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{words}">'
        f"{''.join(rows)}{line}</svg>"
    )
