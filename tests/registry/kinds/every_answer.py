"""Details of a kind made from its fields alone, with every answer that can change what it means.

Each choice of the required fields is combined with each of the others; each field that may stay
empty is then filled in on its own, with each of its values.
"""

from collections.abc import Iterator
from itertools import islice, product
from typing import Any

from registry.atmosphere import LedgerItem, SystemFacts
from registry.kinds import Field, Kind, check_details
from tests.registry.atmosphere.ledgers import START

MOST = 3000
DAY = "2026-05-04"
LARGE = {"pressure": 2e5, "pressure_difference": 2e5}


def values(field: Field) -> tuple[Any, ...]:
    if field.type in ("choice", "tri"):
        return tuple(code for code, _ in field.choices)
    if field.type == "percent":
        return (0.0, 40.0, 99.5)
    if field.type == "date":
        return (DAY,)
    if field.type in ("text", "pipe_run"):
        return ("As seen",)
    low = field.low or 0
    if field.type == "integer":
        return (int(low), int(low) + 1)
    return (low, low + LARGE.get(field.dimension, 1.0))


def every_answer(kind: Kind) -> Iterator[dict[str, Any]]:
    """Details that the kind accepts, from the plainest on: one of those that need one is filled."""
    required = [field for field in kind.fields if field.is_required]
    optional = [field for field in kind.fields if not field.is_required]
    required += [field for field in optional if field.name in kind.needs_one_of[:1]]
    named = [[(field.name, value) for value in values(field)] for field in required]
    for combined in islice(product(*named), MOST):
        plain = dict(combined)
        yield check_details(kind, plain)
        for field in optional:
            for value in values(field):
                yield check_details(kind, plain | {field.name: value})


def telling_answers(kind: Kind, facts: SystemFacts) -> list[dict[str, Any]]:
    """One set of details for each way in which records of this kind differ in what they mean."""
    found: dict[Any, dict[str, Any]] = {}
    for details in every_answer(kind):
        item = LedgerItem(1, 1, kind.code, START, details)
        found.setdefault(_meaning(kind, item, facts), details)
    return list(found.values())


def _meaning(kind: Kind, item: LedgerItem, facts: SystemFacts) -> Any:
    judged = kind.gas.air(item, facts) if kind.gas.air else None
    breach = judged and (judged.air, judged.share > 0)
    return breach, kind.water_of(item, facts), kind.protection_of(item).says
