"""What leaks and work cost an owner: prices, and the arithmetic on them (pure but for reading).

`docs/money.md` says the arithmetic with a worked example, which `tests/registry/test_money.py`
works out again.
"""

from registry.money.arithmetic import (
    added_a_year,
    chance_at,
    chance_with,
    chances_by_year,
    expected_a_year,
    expected_by_year,
    saved_a_year,
)
from registry.money.measures import Amount, of_leaks, price_of, replacement
from registry.money.prices import (
    ASSUMED_LEAK,
    ASSUMED_VISIT,
    Prices,
    assumed_per_m,
    money_text,
    prices_of,
)

__all__ = [
    "ASSUMED_LEAK",
    "ASSUMED_VISIT",
    "Amount",
    "Prices",
    "added_a_year",
    "assumed_per_m",
    "chance_at",
    "chance_with",
    "chances_by_year",
    "expected_a_year",
    "expected_by_year",
    "money_text",
    "of_leaks",
    "price_of",
    "prices_of",
    "replacement",
    "saved_a_year",
]
