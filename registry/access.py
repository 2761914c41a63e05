"""One row for one person: a stranger gets 404, a member without the role 403."""

from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import Http404
from django.utils.translation import gettext

from registry.models import AuditAccess, Membership, Organisation, Site, User

LONGEST_KEY = 19  # more digits than a 64-bit key has, and thousands cannot even be read


def get_visible(queryset, user: User, **lookup):
    queryset = getattr(queryset, "objects", queryset)
    row = queryset.visible_to(user).filter(**lookup).first()
    if row is None:
        raise Http404(gettext("Not found."))
    return row


def get_recordable(queryset, user: User, **lookup):
    queryset = getattr(queryset, "objects", queryset)
    row = get_visible(queryset, user, **lookup)
    if not type(row).objects.recordable_by(user).filter(pk=row.pk).exists():
        raise PermissionDenied(gettext("You may read this book but not write in it."))
    return row


def get_manageable(queryset, user: User, **lookup):
    queryset = getattr(queryset, "objects", queryset)
    row = get_visible(queryset, user, **lookup)
    if not type(row).objects.manageable_by(user).filter(pk=row.pk).exists():
        raise PermissionDenied(gettext("Only a manager of the owner may change the register."))
    return row


def may_record(row, user: User) -> bool:
    return type(row).objects.recordable_by(user).filter(pk=row.pk).exists()


def may_manage(row, user: User) -> bool:
    return type(row).objects.manageable_by(user).filter(pk=row.pk).exists()


def key_in(text: str | None) -> int | None:
    """A row's key out of an address or a form; None for what no row can have for one."""
    return int(text) if text and text.isdecimal() and len(text) < LONGEST_KEY else None


def managed_owners(user: User):
    """The owner organisations whose register the person keeps."""
    return Organisation.objects.filter(
        kind=Organisation.Kind.OWNER,
        memberships__user=user,
        memberships__role=Membership.Role.MANAGER,
    )


def visible_owners(user: User):
    """The owners of whose book the person sees anything, by name."""
    mine = Q(memberships__user=user) | Q(sites__in=Site.objects.visible_to(user))
    owners = Organisation.objects.filter(mine, kind=Organisation.Kind.OWNER)
    return owners.distinct().order_by("name")


def get_owner(user: User, pk: int) -> Organisation:
    owner = visible_owners(user).filter(pk=pk).first()
    if owner is None:
        raise Http404(gettext("Not found."))
    return owner


def manages(user: User, owner: Organisation) -> bool:
    return managed_owners(user).filter(pk=owner.pk).exists()


def audits(user: User, owner: Organisation) -> bool:
    return audit_access(user, owner) is not None


def audit_access(user: User, owner: Organisation) -> AuditAccess | None:
    """What lets the person read the owner's book as an auditor now; the widest of several."""
    rows = AuditAccess.objects.of(user).filter(owner=owner)
    return rows.order_by("-has_all_sites", "pk").first()


def get_owner_to_prove(user: User, pk: int) -> Organisation:
    """Of whose whole book the person may take the records away: its managers and its auditors."""
    owner = get_owner(user, pk)
    if not (manages(user, owner) or audits(user, owner)):
        raise PermissionDenied(
            gettext("Only a manager of the owner or an auditor may take packages of records.")
        )
    return owner


def owners_to_prove(user: User):
    managed = managed_owners(user).values("pk")
    audited = AuditAccess.objects.of(user).values("owner")
    return Organisation.objects.filter(Q(pk__in=managed) | Q(pk__in=audited)).order_by("name")


def get_managed_owner(user: User, pk: int) -> Organisation:
    owner = get_owner(user, pk)
    if not manages(user, owner):
        raise PermissionDenied(gettext("Only a manager of the owner may change this."))
    return owner


def require_managed_owner(user: User) -> Organisation:
    owner = managed_owners(user).first()
    if owner is None:
        raise PermissionDenied(gettext("Only a manager of an owner may do this."))
    return owner
