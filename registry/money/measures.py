"""What measures cost: the price of a visit, or of the run that is replaced. Others have none."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Protocol

from registry.corrosion.decisions import Option
from registry.money.prices import Prices

MAKES_INERT: Final = "inert_now"


class Run(Protocol):
    """As much of a run of pipe as its price asks for."""

    @property
    def nominal_size(self) -> str: ...
    @property
    def length_m(self) -> float: ...


@dataclass(frozen=True)
class Amount:
    """A sum in an owner's currency, and whether an assumed price is in it."""

    value: float
    prices: Prices
    is_assumed: bool

    @property
    def text(self) -> str:
        return self.prices.text(self.value)

    @property
    def marked(self) -> str:
        """With a star where it is assumed; the page or paper says what the star means."""
        return f"{self.text}*" if self.is_assumed else self.text


def replacement(prices: Prices, runs: Iterable[Run]) -> Amount:
    """Price of replacing these runs: each its length by the price of a metre of its size."""
    rows = list(runs)
    return Amount(
        sum(prices.replacement(run.nominal_size, run.length_m) for run in rows),
        prices,
        any(prices.is_assumed_for(run.nominal_size) for run in rows),
    )


def price_of(option: Option, prices: Prices, replaced: Run | None = None) -> Amount | None:
    """None where the book holds no price of such work. `replaced`: the run of `option.run`."""
    if option.code == MAKES_INERT:
        return Amount(prices.visit, prices, prices.own_visit is None)
    return replacement(prices, [replaced]) if replaced else None


def of_leaks(prices: Prices, value: float) -> Amount:
    """A sum that rests on the price of one leak."""
    return Amount(value, prices, prices.own_leak is None)
