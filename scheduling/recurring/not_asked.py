"""Rows of the library that could be asked for at a site and are not, and why."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext

from registry.models import OwnerRecord, Site, System
from scheduling import library
from scheduling.models import OwnItem
from scheduling.recurring.at_system import adopted
from scheduling.recurring.decisions import ITEM

SET_ASIDE, NOT_ADOPTED = "set aside", "not adopted"


@dataclass(frozen=True)
class NotAsked:
    """For all systems of a kind at a site."""

    site: Site
    system_kind: str
    item: str
    title: str
    outcome: str
    why: str
    decision: OwnerRecord | None = None


def not_asked(systems: Iterable[System]) -> Iterator[NotAsked]:
    """Work that the owner set aside, and work that only editions ask for which the site did not
    adopt; work that depends on a fact of a system is asked for until somebody answers."""
    kinds: dict[Site, set[str]] = {}
    for system in systems:
        kinds.setdefault(system.site, set()).add(system.kind)
    for site, there in sorted(kinds.items(), key=lambda one: one[0].name):
        own = {row.row: row for row in OwnItem.objects.filter(owner=site.owner_id)}
        editions = _with_amended(adopted(site))
        for kind in sorted(there):
            yield from _set_aside(site, kind, own.values())
            yield from _not_adopted(site, kind, own, editions)


def _set_aside(site: Site, kind: str, own: Iterable[OwnItem]) -> Iterator[NotAsked]:
    for row in own:
        if row.is_used or kind not in row.system_kinds.split():
            continue
        decision = (
            OwnerRecord.objects.filter(Q(ledger__owner=site.owner_id), subject=ITEM, key=row.row)
            .select_related("recorded_by", "log_leaf")
            .order_by("-sequence")
            .first()
        )
        why = gettext("Set aside for the whole owner by {by} on {on}.").format(
            by=row.changed_by.name, on=f"{row.changed_at:%Y-%m-%d}"
        )
        if decision is None:
            why += " " + gettext("That is not on record: the owner's ledger is younger.")
        yield NotAsked(site, kind, row.key, row.title, SET_ASIDE, why, decision)


def _not_adopted(
    site: Site, kind: str, own: dict[str, OwnItem], editions: list[library.Edition]
) -> Iterator[NotAsked]:
    rows = [row for row in library.items() if kind in row.system_kinds and row.row not in own]
    held = {row.key for row in rows if any(row.covers(edition) for edition in editions)}
    told: set[str] = set()
    for row in rows:
        if row.key in held or row.key in told:
            continue
        told.add(row.key)
        if editions:
            why = gettext("No edition that the site adopted asks for it; {standard} does.")
        else:
            why = gettext("The site adopted no edition, so nothing recurring is asked for there.")
        why = why.format(standard=row.standard or library.GOOD_PRACTICE)
        yield NotAsked(site, kind, row.key, row.title, NOT_ADOPTED, why)


def _with_amended(editions: Iterable[library.Edition]) -> list[library.Edition]:
    """An edition that amends another speaks with it."""
    found = list(editions)
    known = library.editions()
    for edition in found:
        if edition.amends and known[edition.amends] not in found:
            found.append(known[edition.amends])
    return found
