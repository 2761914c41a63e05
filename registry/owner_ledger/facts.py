"""An owner's facts as its rows hold them today, by subject and key."""

import json
from collections.abc import Callable, Collection, Iterable, Iterator
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Q
from django.forms.models import model_to_dict

from registry.models import (
    AuditAccess,
    Building,
    LogKey,
    Membership,
    Organisation,
    OwnerPolicy,
    ServiceContract,
    SignSettings,
    Site,
    User,
)

Key = tuple[str, str]
"""Subject and the row's name for good."""
Facts = dict[Key, dict[str, Any]]
Source = Callable[[Organisation], Iterable[tuple[str, dict[str, Any]]]]

SITE = (
    "name", "address", "time_zone", "altitude_m", "water_temperature_k",
    "measured_dissolved_oxygen_mg_l",
)  # fmt: skip
NOT_A_FACT = ("id", "owner")
_SOURCES: dict[str, Source] = {}
_OF_SYSTEMS: set[str] = set()


def register(subject: str, *, is_of_systems: bool = False) -> Callable[[Source], Source]:
    """Declares what gives the facts of a subject, in this app or in one above it. There are many
    of those `is_of_systems`; whoever changes one names its subject."""

    def declare(source: Source) -> Source:
        _SOURCES[subject] = source
        if is_of_systems:
            _OF_SYSTEMS.add(subject)
        return source

    return declare


def all_subjects() -> frozenset[str]:
    return frozenset(_SOURCES)


def few_subjects() -> frozenset[str]:
    """Those that are read whole whenever something of the owner changes."""
    return frozenset(_SOURCES) - _OF_SYSTEMS


def facts_of(owner: Organisation, subjects: Collection[str] | None = None) -> Facts:
    """As they are written: days and instants are text; of all subjects where none are named."""
    found = {
        (subject, key): facts
        for subject, source in _SOURCES.items()
        if subjects is None or subject in subjects
        for key, facts in source(owner)
    }
    return {key: _plain(facts) for key, facts in found.items()}


def _plain(facts: dict[str, Any]) -> dict[str, Any]:
    return json.loads(json.dumps(facts, cls=DjangoJSONEncoder))


@register("owner")
def _owner(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    for name in Organisation.objects.filter(pk=owner.pk).values_list("name", flat=True):
        yield "", {"name": name}


@register("site")
def _sites(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    for site in Site.objects.filter(owner=owner):
        yield str(site.pk), model_to_dict(site, SITE)


@register("building")
def _buildings(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    for row in Building.objects.filter(site__owner=owner):
        yield str(row.pk), {"site": row.site_id, "name": row.name, "access_note": row.access_note}


@register("contract")
def _contracts(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    rows = ServiceContract.objects.filter(site__owner=owner).select_related("contractor")
    for row in rows:
        yield (
            str(row.pk),
            {
                "site": row.site_id,
                "contractor": row.contractor.name,
                "starts_on": row.starts_on,
                "ends_on": row.ends_on,
            },
        )


@register("sign")
def _signs(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    """What the signs of a site say beside the register: whose telephone hung on the wall when."""
    for row in SignSettings.objects.filter(site__owner=owner).select_related("contractor"):
        yield (
            str(row.pk),
            {
                "languages": row.languages,
                "owner_telephone": row.owner_telephone,
                "contractor_telephone": row.contractor_telephone,
                "contractor": row.contractor.name if row.contractor else None,
            },
        )


@register("audit access")
def _audit_access(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    rows = AuditAccess.objects.filter(owner=owner).select_related("auditor")
    for row in rows.prefetch_related("sites"):
        yield (
            str(row.pk),
            {
                "auditor": row.auditor.name,
                "ends_on": row.ends_on,
                "sites": None if row.has_all_sites else sorted(site.pk for site in row.sites.all()),
                "happened_from": row.happened_from,
                "happened_before": row.happened_before,
            },
        )


@register("policy")
def _policy(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    for row in OwnerPolicy.objects.filter(owner=owner):
        yield str(row.pk), model_to_dict(row, exclude=NOT_A_FACT)


@register("role")
def _roles(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    for row in _memberships(owner).select_related("user", "organisation"):
        key = f"{row.user.uuid} {row.organisation_id}"
        yield key, {"organisation": row.organisation.name, "role": row.role}


@register("second step")
def _second_steps(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    """Of the owner, and of those that work or read there."""
    near = _memberships(owner).order_by().values("organisation")
    demanding = Organisation.objects.filter(demands_second_step=True)
    for row in demanding.filter(Q(pk=owner.pk) | Q(pk__in=near)):
        yield str(row.pk), {"name": row.name}


@register("person")
def _people(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    """Whoever may read or has ever written here."""
    members = _memberships(owner).order_by().values("user")
    wrote = Q(records__system__site__owner=owner)
    writers = User.objects.filter(wrote).order_by().values("pk").distinct()
    people = User.objects.filter(Q(pk__in=members) | Q(pk__in=writers))
    for uuid, name in people.values_list("uuid", "name"):
        yield str(uuid), {"name": name}


@register("key")
def _keys(owner: Organisation) -> Iterator[tuple[str, dict[str, Any]]]:
    """Those that took the log over; the first one came with it."""
    later = LogKey.objects.filter(log__owner=owner).exclude(reason=LogKey.Reason.FIRST)
    for key in later:
        yield str(key.pk), {"vkey": key.vkey, "reason": key.reason, "size": key.size}


def _memberships(owner: Organisation):
    contractors = ServiceContract.objects.filter(site__owner=owner).values("contractor")
    auditors = AuditAccess.objects.filter(owner=owner).values("auditor")
    near = Q(organisation=owner) | Q(organisation__in=contractors) | Q(organisation__in=auditors)
    return Membership.objects.filter(near)
