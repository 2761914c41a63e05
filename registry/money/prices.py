"""An owner's prices, and what is assumed where the owner has said none."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from django.utils.formats import number_format

from registry.models import OwnerPrices

ASSUMED_LEAK: Final = 25_000
"""One leak with all that it ruins. Assumed: no source gives one for a building not known."""
ASSUMED_VISIT: Final = 1_500
"""One visit that makes a system inert. Assumed."""
ASSUMED_PER_M, ASSUMED_PER_M_AND_INCH = 60, 40
"""A metre of pipe replaced, and what each inch of its size adds. Assumed."""


def assumed_per_m(size: str) -> float:
    """The assumed price of a metre of pipe by its nominal size in inches, “1-1/4”."""
    return ASSUMED_PER_M + ASSUMED_PER_M_AND_INCH * _inches(size)


def _inches(size: str) -> float:
    whole, _, part = size.replace(" ", "-").partition("-")
    total = 0.0
    for piece in (whole, part):
        over, _, under = piece.partition("/")
        try:
            total += float(over) / float(under or 1) if over else 0.0
        except (ValueError, ZeroDivisionError):
            return 2.0
    return total


def money_text(amount: float, currency: str = "") -> str:
    """Whole units with the owner's own sign before them; the sign alone where there is one."""
    number = number_format(round(amount), 0, force_grouping=True)
    if not currency:
        return number
    return f"{currency}\u00a0{number}" if currency[-1].isalnum() else f"{currency}{number}"


@dataclass(frozen=True)
class Prices:
    """An owner's prices in whole units of the owner's currency."""

    currency: str = ""
    own_leak: int | None = None
    own_visit: int | None = None
    own_per_m: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, row: OwnerPrices | None) -> "Prices":
        if row is None:
            return cls()
        return cls(row.currency, row.leak_incident, row.reinerting_visit, row.replacement_per_m)

    @property
    def leak(self) -> int:
        return ASSUMED_LEAK if self.own_leak is None else self.own_leak

    @property
    def visit(self) -> int:
        return ASSUMED_VISIT if self.own_visit is None else self.own_visit

    @property
    def is_assumed(self) -> bool:
        """Whether any of the two that pages rest on is not the owner's own."""
        return self.own_leak is None or self.own_visit is None

    def per_m(self, size: str) -> float:
        own = self.own_per_m.get(size)
        return assumed_per_m(size) if own is None else own

    def is_assumed_for(self, size: str) -> bool:
        return self.own_per_m.get(size) is None

    def replacement(self, size: str, length_m: float) -> float:
        """Price of replacing a run: its length by the price of a metre of its size."""
        return self.per_m(size) * length_m

    @property
    def leak_text(self) -> str:
        return self.text(self.leak)

    @property
    def visit_text(self) -> str:
        return self.text(self.visit)

    def text(self, amount: float) -> str:
        return money_text(amount, self.currency)


def prices_of(owners: Iterable[int]) -> dict[int, Prices]:
    """Prices by the key of the owner; owners who have said none have what is assumed."""
    keys = set(owners)
    rows = OwnerPrices.objects.filter(owner__in=keys)
    found = {row.owner_id: Prices.of(row) for row in rows}
    return {key: found.get(key, Prices()) for key in keys}
