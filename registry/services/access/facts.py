"""What an organisation's people, and others by its leave, may do now: as rows hold it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from registry.models import AuditAccess, Membership, Organisation, PackageLink, ServiceContract


@dataclass(frozen=True)
class Held:
    """`facts` are compared with what the log says; `words` are names, for its reader."""

    subject: str
    key: str
    facts: dict[str, Any]
    words: dict[str, Any]


ROLE, CONTRACT, AUDIT, INVITED, SHARED = "role", "contract", "audit", "invitation", "package"
SECOND_STEP = "second step"


def held_by(organisation: Organisation) -> Iterator[Held]:
    yield from _roles(organisation)
    yield from _second_step(organisation)
    yield from _contracts(organisation)
    yield from _audits(organisation)
    yield from _invitations(organisation)
    yield from _shared(organisation)


def _roles(organisation: Organisation) -> Iterator[Held]:
    for row in Membership.objects.filter(organisation=organisation).select_related("user"):
        facts = {
            "role": row.role,
            "name": row.user.name,
            "email": row.user.email,
            "is_active": row.user.is_active,
        }
        yield Held(ROLE, str(row.user.uuid), facts, {"who": _person(row.user)})


def _second_step(organisation: Organisation) -> Iterator[Held]:
    for row in Organisation.objects.filter(pk=organisation.pk, demands_second_step=True):
        yield Held(SECOND_STEP, "", {}, {"who": row.name})


def _contracts(organisation: Organisation) -> Iterator[Held]:
    near = Q(site__owner=organisation) | Q(contractor=organisation)
    for row in ServiceContract.objects.filter(near).select_related("site__owner", "contractor"):
        facts = {
            "site": row.site_id,
            "contractor": row.contractor_id,
            "starts_on": _day(row.starts_on),
            "ends_on": _day(row.ends_on),
        }
        words = {
            "who": row.contractor.name,
            "site": row.site.name,
            "owner": row.site.owner.name,
        }
        yield Held(CONTRACT, str(row.pk), facts, words)


def _audits(organisation: Organisation) -> Iterator[Held]:
    near = Q(owner=organisation) | Q(auditor=organisation)
    rows = AuditAccess.objects.filter(near).select_related("owner", "auditor")
    for row in rows.prefetch_related("sites"):
        sites = [] if row.has_all_sites else sorted(row.sites.all(), key=lambda one: one.pk)
        facts = {
            "auditor": row.auditor_id,
            "ends_on": _day(row.ends_on),
            "sites": None if row.has_all_sites else [one.pk for one in sites],
            "happened_from": row.happened_from.isoformat() if row.happened_from else None,
            "happened_before": row.happened_before.isoformat() if row.happened_before else None,
        }
        words = {
            "who": row.auditor.name,
            "owner": row.owner.name,
            "sites": [one.name for one in sites],
        }
        yield Held(AUDIT, str(row.pk), facts, words)


def _invitations(organisation: Organisation) -> Iterator[Held]:
    for row in organisation.invitations.select_related("accepted_by", "accepted_for"):
        state = "accepted" if row.accepted_at else "withdrawn" if row.withdrawn_at else "open"
        facts = {
            "state": state,
            "expires_at": row.expires_at.isoformat(),
            "kind": row.kind,
            "role": row.role,
        }
        words = {"who": row.email}
        if row.accepted_by:
            words["accepted_by"] = _person(row.accepted_by)
        if row.accepted_for:
            words["accepted_for"] = row.accepted_for.name
        yield Held(INVITED, str(row.uuid), facts, words)


def _shared(organisation: Organisation) -> Iterator[Held]:
    for row in PackageLink.objects.filter(package__owner=organisation, revoked_at=None):
        yield Held(
            SHARED, str(row.pk), {"expires_at": row.expires_at.isoformat()}, {"who": row.label}
        )


def _person(user: Any) -> str:
    return f"{user.name} <{user.email}>" if user.name else user.email


def _day(day: Any) -> str | None:
    return day.isoformat() if day else None
