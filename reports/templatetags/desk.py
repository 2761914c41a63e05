"""What the desk's templates need: {% money prices amount %}, {% narrow asked "state" code %}."""

from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from registry.assess.books import Pipe
from registry.corrosion.decisions import Option
from registry.models import Assessment
from registry.money import Prices, of_leaks, price_of, replacement, saved_a_year
from reports.portfolio.counts import Counts
from reports.portfolio.desk import Asked
from reports.risk.page import RiskPage

register = template.Library()
WIDTH = 416


@register.simple_tag
def money(prices: Prices, amount: float) -> str:
    return prices.text(amount)


@register.simple_tag
def narrow(asked: Asked, name: str, value: str) -> str:
    """The same view narrowed by one answer; pressed again, no longer."""
    return asked.address(**{name: "" if asked.query.get(name) == value else value})


@register.simple_tag
def band_word(band: str) -> str:
    return str(Assessment.Band(band).label).lower()


@register.simple_tag
def in_a_hundred(chance: float | None) -> str:
    """Nothing that can leak reads 0, nothing that may hold reads 100."""
    if chance is None:
        return gettext("chance not known")
    number = 100 * chance
    text = f"{number:.0f}"
    if 0 < number < 1:
        text = "<1"
    elif 99 < number < 100:
        text = ">99"
    return gettext("%(number)s in 100") % {"number": text}


@register.simple_tag
def tally_strip(counts: Counts) -> SafeString:
    """How many systems are in each state, as one strip; the numbers stand under it."""
    parts, x, total = [], 0.0, max(counts.systems, 1)
    css = {"inert": "b-i", "in_doubt": "b-d", "aerated": "b-a"}
    for code, count in counts.states:
        width = WIDTH * count / total
        if count:
            parts.append(
                f'<rect class="{css[code]}" x="{x:.1f}" y="0.5" width="{width:.1f}" height="11"/>'
            )
        x += width
    return mark_safe(  # nosec B308
        f'<svg class="s-tally" viewBox="0 0 {WIDTH} 12" preserveAspectRatio="none" height="12" '
        f'aria-hidden="true" focusable="false">{"".join(parts)}</svg>'
    )


@register.simple_tag
def price_of_measure(prices: Prices, page: RiskPage, option: Option) -> str:
    """Of a visit or of the run replaced; the book knows no price of other work."""
    replaced = None if option.run is None else page.case.book.runs[option.run]
    price = price_of(option, prices, replaced)
    return price.marked if price else gettext("not known")


@register.simple_tag
def replacing(prices: Prices, run: Pipe) -> str:
    return replacement(prices, [run]).marked


@register.simple_tag
def saving(prices: Prices, row: Assessment, option: Option) -> str:
    """Expected cost a year that a measure saves, as text."""
    if row.score is None or row.leak_in_5_yr is None:
        return gettext("not known")
    saved = saved_a_year(row.leak_in_5_yr, row.score, option.score, prices.leak)
    return of_leaks(prices, saved).marked
