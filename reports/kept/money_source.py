"""What money says of systems: the owners' prices on what the report works out anyway.

The arithmetic is that of `registry.money`, as the pages have it. Prices are those of today: of
earlier ones the book keeps no copy.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext

from registry.corrosion.decisions import Option
from registry.models import Organisation, System
from registry.money import (
    ASSUMED_LEAK,
    ASSUMED_VISIT,
    Amount,
    Prices,
    added_a_year,
    expected_a_year,
    expected_by_year,
    money_text,
    of_leaks,
    price_of,
    prices_of,
    saved_a_year,
)
from reports.kept.standing import Standing


@dataclass(frozen=True)
class Money:
    """Amounts in the currency of each owner; never added up across two currencies."""

    prices: Mapping[int, Prices]
    owners: Mapping[int, Organisation]

    def of(self, system: System) -> Prices:
        return self.prices[system.site.owner_id]

    def a_year(self, row: Standing) -> Amount | None:
        """Expected cost of the first leak, as an average over five years."""
        if row.leak_in_5_yr is None:
            return None
        prices = self.of(row.system)
        return of_leaks(prices, float(expected_a_year(row.leak_in_5_yr, prices.leak)))

    def by_year(self, row: Standing) -> list[Amount] | None:
        """The same year by year, for the five years that come."""
        if row.leak_in_1_yr is None or row.leak_in_5_yr is None:
            return None
        prices = self.of(row.system)
        by_year = expected_by_year(row.leak_in_1_yr, row.leak_in_5_yr, prices.leak)
        return [of_leaks(prices, float(amount)) for amount in by_year]

    def added(self, row: Standing, points: float) -> Amount | None:
        """What an event that cost so many points costs a year; below zero where it spared."""
        if row.leak_in_5_yr is None or row.score is None:
            return None
        prices = self.of(row.system)
        added = added_a_year(row.leak_in_5_yr, row.score, row.score - points, prices.leak)
        return of_leaks(prices, added)

    def saved(self, row: Standing, option: Option) -> Amount | None:
        if row.leak_in_5_yr is None or row.score is None:
            return None
        prices = self.of(row.system)
        return of_leaks(
            prices, saved_a_year(row.leak_in_5_yr, row.score, option.score, prices.leak)
        )

    def price(self, row: Standing, option: Option) -> Amount | None:
        """Of a visit or of the run replaced; None where the book has no price of such work."""
        replaced = None if option.run is None else row.book.runs[option.run]
        return price_of(option, self.of(row.system), replaced)

    @property
    def assumed_words(self) -> str:
        """What a star means, and whose prices are assumed; empty where none is."""
        whose = [
            str(owner)
            for pk, owner in sorted(self.owners.items(), key=lambda one: str(one[1]))
            if self.prices[pk].is_assumed or not self.prices[pk].own_per_m
        ]
        if not whose:
            return ""
        return gettext(
            "* A price in it is assumed and not given by the owner: {leak} for a leak, {visit} for "
            "a visit that makes a system inert, a metre of pipe by its size. Some prices were not "
            "given by: {owners}."
        ).format(
            leak=money_text(ASSUMED_LEAK), visit=money_text(ASSUMED_VISIT), owners=_named(whose)
        )


def money_of(systems: Sequence[System]) -> Money:
    owners = {system.site.owner_id: system.site.owner for system in systems}
    return Money(prices_of(owners), owners)


def sums(amounts: Iterable[Amount]) -> Iterator[Amount]:
    """One for each currency, in the order of their names."""
    found: dict[str, list[Amount]] = defaultdict(list)
    for one in amounts:
        found[one.prices.currency].append(one)
    for _currency, those in sorted(found.items()):
        total = sum(one.value for one in those)
        yield Amount(total, those[0].prices, any(one.is_assumed for one in those))


def marked(amount: Amount | None) -> str:
    return gettext("not known") if amount is None else amount.marked


def _named(names: Sequence[str]) -> str:
    if len(names) <= 3:
        return ", ".join(names)
    return gettext("{names} and {more} more").format(
        names=", ".join(names[:3]), more=len(names) - 3
    )
