"""How long, of which sites and of which time an auditor reads an owner's book."""

from collections.abc import Collection
from datetime import UTC, date, datetime, timedelta

from registry.models import AuditAccess, Site, User
from registry.services.access import changing_access


def set_audit_access(
    *,
    access: AuditAccess,
    ends_on: date | None,
    sites: Collection[Site],
    happened_from: datetime | None,
    happened_before: datetime | None,
    changed_by: User,
    now: datetime,
) -> AuditAccess:
    """All sites where none are named. The owner's ledger keeps what was changed, and by whom."""
    with changing_access(access.owner, access.auditor, by=changed_by, now=now):
        access.ends_on, access.has_all_sites = ends_on, not sites
        access.happened_from, access.happened_before = happened_from, happened_before
        access.full_clean()
        access.save()
        access.sites.set(sites)
    return access


def end_audit_access(*, access: AuditAccess, ended_by: User, now: datetime) -> None:
    """At once: the last day was yesterday, by UTC."""
    with changing_access(access.owner, access.auditor, by=ended_by, now=now):
        access.ends_on = now.astimezone(UTC).date() - timedelta(days=1)
        access.save(update_fields=["ends_on"])
