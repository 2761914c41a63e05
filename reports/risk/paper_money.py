"""What the paper of a risk page says of money: by the owner's prices, as the page has it."""

from typing import Any

from django.utils.translation import gettext

from registry.corrosion.decisions import Option
from registry.money import (
    Prices,
    expected_a_year,
    of_leaks,
    price_of,
    prices_of,
    replacement,
    saved_a_year,
)
from registry.templatetags.risk import points, signed
from registry.translation import _
from registry.words.told.retelling import retold
from reports.risk.page import RiskPage

BEYOND = _("beyond 80 yr")


def money_of_page(page: RiskPage) -> dict[str, Any]:
    """Measures with what they cost and save, what replacing each run costs, and the sentence."""
    owner = page.system.site.owner_id
    prices = prices_of([owner])[owner]
    return {
        "options": [_option(page, option, prices) for option in page.detail.options],
        "replacing": [(row.label, replacement(prices, [row.run]).marked) for row in page.runs],
        "money_words": _words(page, prices),
    }


def _option(page: RiskPage, option: Option, prices: Prices) -> tuple[str, ...]:
    replaced = None if option.run is None else page.case.book.runs[option.run]
    price = price_of(option, prices, replaced)
    found = page.assessed.values
    saved = saved_a_year(found["leak_in_5_yr"], found["score"], option.score, prices.leak)
    return (
        retold(option.text),
        points(option.score),
        str(BEYOND) if option.years_gained is None else signed(option.years_gained),
        of_leaks(prices, saved).marked,
        price.marked if price else gettext("not known"),
    )


def _words(page: RiskPage, prices: Prices) -> str:
    a_year = expected_a_year(page.assessed.values["leak_in_5_yr"], prices.leak)
    return gettext(
        "If left, its first leak is expected to cost {amount} a year, averaged over five years at "
        "{leak} for a leak. With a star: a price that the owner has not given is assumed in it."
    ).format(
        amount=of_leaks(prices, float(a_year)).marked, leak=of_leaks(prices, prices.leak).marked
    )
