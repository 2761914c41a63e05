"""Systems as their register had them at an instant: what was changed since is put back.

A system's own ledger tells what a fact was before it was changed; its site's, its owner's name and
the owner's limits are in the owner's ledger. The rows are changed in memory and never saved.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Model

from registry.kinds.facts import FACTS_AMENDED
from registry.models import OwnerPolicy, OwnerRecord, Record, Site, System
from registry.owner_ledger import Facts, fold

SUBJECTS = ("ledger", "owner", "site", "policy")
"""“ledger”: that it began."""
PLAIN = frozenset(field.name for field in System._meta.fields if not field.is_relation)


def put_back(systems: Sequence[System], when: datetime) -> frozenset[int]:
    """Of systems that share the rows of their sites. Returns the owners of whom the book holds no
    names and facts as of then, since their ledger had not begun: theirs are those of today."""
    _systems_back(systems, when)
    sites = {system.site_id: system.site for system in systems}
    owners = {site.owner_id for site in sites.values()}
    ledgers = _owner_facts(owners, when)
    for site in sites.values():
        if facts := ledgers.get(site.owner_id):
            _site_back(site, facts)
    return frozenset(owner for owner in owners if owner in ledgers and ledgers[owner] is None)


def _systems_back(systems: Sequence[System], when: datetime) -> None:
    by_key = {system.pk: system for system in systems}
    later = Record.objects.filter(
        system__in=by_key, kind=FACTS_AMENDED.code, recorded_at__gt=when
    ).order_by("system", "-sequence")
    for key, details in later.values_list("system", "details"):
        for name, change in details.items():
            if name in PLAIN:
                _set(by_key[key], name, change["from"])


def _owner_facts(owners: Collection[int], when: datetime) -> dict[int, Facts | None]:
    """Only of owners of whom anything was written since, or of whom nothing is; None: nothing was
    then. Of the others the rows say what they said then."""
    told = OwnerRecord.objects.filter(ledger__owner__in=owners, subject__in=SUBJECTS)
    begun = set(told.order_by().values_list("ledger__owner", flat=True).distinct())
    since = told.filter(recorded_at__gt=when).order_by()
    changed = set(since.values_list("ledger__owner", flat=True).distinct())
    found: dict[int, Facts | None] = dict.fromkeys({*changed, *(set(owners) - begun)})
    earlier = told.filter(ledger__owner__in=changed, recorded_at__lte=when)
    by_owner: dict[int, list[OwnerRecord]] = defaultdict(list)
    for row in earlier.select_related("ledger").order_by("sequence"):
        by_owner[row.ledger.owner_id].append(row)
    return found | {owner: fold(rows) for owner, rows in by_owner.items()}


def _site_back(site: Site, facts: Facts) -> None:
    """A site that came later keeps the facts of today: of then there are none."""
    owner = site.owner
    _set_all(owner, facts.get(("owner", ""), {}).items())
    _set_all(site, facts.get(("site", str(site.pk)), {}).items())
    limits = next((said for (subject, _), said in facts.items() if subject == "policy"), {})
    owner.policy = OwnerPolicy(owner=owner, **limits)


def _set_all(row: Model, facts: Iterable[tuple[str, Any]]) -> None:
    for name, value in facts:
        _set(row, name, value)


def _set(row: Model, name: str, value: Any) -> None:
    field = row._meta.get_field(name)
    setattr(row, name, field.to_python(value) if hasattr(field, "to_python") else value)
