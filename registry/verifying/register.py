"""The facts of a system and its fittings, as its records left them."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _

from registry.chain import canonical_json
from registry.kinds.facts import FACTS_AMENDED, SYSTEM_ENTERED
from registry.models import Record
from registry.services.register.systems import FITTING_FACTS, SYSTEM_FACTS, facts_of
from registry.verifying.loading import Held

FITTING = "fitting"


def differing(row: Mapping[str, Any], said: Mapping[str, Any]) -> list[str]:
    """Names of facts that the row holds otherwise than the records; what they never said is left
    out, since older records know fewer facts."""
    return [
        name
        for name, value in row.items()
        if name in said and canonical_json(value) != canonical_json(said[name])
    ]


def check_register(one: Held) -> Iterator[str]:
    said: dict[str, Any] = {}
    for row in one.records:
        if row.kind == SYSTEM_ENTERED.code:
            said |= row.details
        elif row.kind == FACTS_AMENDED.code:
            said |= {name: change["to"] for name, change in _amended(row)}
    for name in differing(facts_of(one.system, SYSTEM_FACTS), said):
        yield _(
            "The register says “%(row)s” for %(fact)s, and the records say “%(said)s”."
        ) % {"row": getattr(one.system, name), "fact": words(name), "said": said[name]}  # fmt: skip


def _amended(row: Record) -> Iterator[tuple[str, Any]]:
    for name, change in row.details.items():
        if name != FITTING and isinstance(change, Mapping) and "to" in change:
            yield name, change


def check_fittings(one: Held) -> Iterator[str]:
    """Fittings have no name of their own in the records, so they are counted by their facts."""
    said = Counter(_said_fittings(one.records))
    there = Counter(canonical_json(facts_of(row, FITTING_FACTS)) for row in one.fittings)
    if extra := there - said:
        yield _("The register holds %(count)s fittings that no record entered so.") % {
            "count": extra.total()
        }
    if missing := said - there:
        yield _("%(count)s fittings that records entered are not in the register so.") % {
            "count": missing.total()
        }


def _said_fittings(records: Iterable[Record]) -> list[str]:
    said: list[str] = []
    for row in records:
        fitting = row.details.get(FITTING) if row.kind == FACTS_AMENDED.code else None
        if not isinstance(fitting, Mapping):
            continue
        if "to" in fitting:
            before = canonical_json(fitting.get("from"))
            if before in said:
                said.remove(before)
            fitting = fitting["to"]
        said.append(canonical_json(fitting))
    return said


def words(name: str) -> str:
    return name.replace("_", " ")
