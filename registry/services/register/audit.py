"""How long, of which sites and of which time an auditor reads an owner's book."""

from collections.abc import Collection
from datetime import date, datetime

from django.db import transaction

from registry.models import AuditAccess, Site, User
from registry.services.owner_ledger import note_changes


@transaction.atomic
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
    access.ends_on, access.has_all_sites = ends_on, not sites
    access.happened_from, access.happened_before = happened_from, happened_before
    access.full_clean()
    access.save()
    access.sites.set(sites)
    note_changes(access.owner, by=changed_by, now=now)
    return access
