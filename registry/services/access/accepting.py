"""An invitation accepted: once, by a new person or one who has an account."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from registry.models import (
    AuditAccess,
    Invitation,
    Membership,
    Organisation,
    OwnerPolicy,
    ServiceContract,
    Site,
    User,
)
from registry.models.access import digest_of
from registry.services.access.log import changing_access
from registry.services.access.names import check_name, organisations_of
from registry.services.owner_ledger import begin_ledger

Kind = Invitation.Kind
BECOMES = {
    Kind.CONTRACTOR: Organisation.Kind.CONTRACTOR,
    Kind.AUDITOR: Organisation.Kind.AUDITOR,
    Kind.OWNER: Organisation.Kind.OWNER,
}


@dataclass(frozen=True)
class NewPerson:
    """The address is that of the invitation: whoever has the link was reached there."""

    name: str
    password: str
    display_units: str


def find_invitation(secret: str, now: datetime) -> Invitation | None:
    """By digest: how long the look-up takes tells nothing of how much of a guess was right."""
    live = Invitation.objects.live(now).select_related("organisation", "invited_by")
    return live.filter(digest=digest_of(secret)).first()


def accept(
    *,
    invitation: Invitation,
    person: User | NewPerson,
    now: datetime,
    organisation: Organisation | None = None,
    organisation_name: str = "",
    sites: Collection[Site] = (),
) -> User | None:
    """The person, who is let in from now on; None where it was closed meanwhile.

    For a contractor, an auditor or an owner they come for `organisation`, or for a new one of
    that name. `sites`: those that an owner lets the contractor serve who invited it.
    """
    coming = invitation.organisation if invitation.is_for_a_member else organisation
    concerned = [one for one in (invitation.organisation, coming) if one]
    with changing_access(*concerned, by=None, now=now) as change:
        if not _take(invitation, now):
            return None
        user = change.by = _user(person, invitation, concerned)
        if coming is None:
            coming = _begin_organisation(invitation, organisation_name, user)
            change.add(coming)
        if invitation.is_for_a_member:
            _join(user, coming, invitation.role)
        else:
            _connect(invitation, coming, sites, user, now)
        invitation.accepted_by, invitation.accepted_for = user, coming
        invitation.save(update_fields=["accepted_by", "accepted_for"])
    return user


def _take(invitation: Invitation, now: datetime) -> bool:
    """Of two who accept at once one comes in."""
    live = Invitation.objects.live(now).filter(pk=invitation.pk, digest=invitation.digest)
    taken = bool(live.update(accepted_at=now))
    invitation.refresh_from_db(fields=["accepted_at"])
    return taken


def _user(person: User | NewPerson, invitation: Invitation, near: list[Organisation]) -> User:
    if isinstance(person, User):
        check_name(person.name, of=person, organisations=[*organisations_of(person), *near])
        return person
    if User.objects.filter(email__iexact=invitation.email).exists():
        raise ValidationError(
            gettext("This address has an account already. Sign in with it first.")
        )
    try:
        check_name(person.name, of=None, organisations=near)
    except ValidationError as error:
        raise ValidationError({"name": error}) from None
    return User.objects.create_user(
        invitation.email, person.password, name=person.name, display_units=person.display_units
    )


def _begin_organisation(invitation: Invitation, name: str, user: User) -> Organisation:
    kind = BECOMES[Kind(invitation.kind)]
    made = Organisation(name=" ".join(name.split()), kind=kind)
    try:
        made.full_clean()
    except ValidationError as error:
        raise ValidationError({"organisation_name": error.messages}) from None
    made.save()
    Membership.objects.create(user=user, organisation=made, role=Membership.Role.MANAGER)
    return made


def _join(user: User, organisation: Organisation, role: str) -> None:
    """Whoever is there already keeps the role they have: it is changed on the page of people."""
    Membership.objects.get_or_create(user=user, organisation=organisation, defaults={"role": role})


def _connect(
    invitation: Invitation, coming: Organisation, sites: Collection[Site], user: User, now: datetime
) -> None:
    if invitation.kind == Kind.AUDITOR:
        _let_audit(invitation, coming)
    elif invitation.kind == Kind.CONTRACTOR:
        _let_serve(
            list(invitation.sites.all()), coming, invitation.starts_on, invitation.ends_on, now
        )
    else:
        if not OwnerPolicy.objects.filter(owner=coming).exists():
            OwnerPolicy.objects.create(owner=coming)
        begin_ledger(coming, now=now, by=user)
        _let_serve(list(sites), invitation.organisation, None, None, now)


def _let_audit(invitation: Invitation, auditor: Organisation) -> None:
    """One access for a pair: a new invitation says anew until when and of which sites."""
    sites = list(invitation.sites.all())
    access, _ = AuditAccess.objects.update_or_create(
        owner=invitation.organisation,
        auditor=auditor,
        defaults={"ends_on": invitation.ends_on, "has_all_sites": not sites},
    )
    access.sites.set(sites)


def _let_serve(
    sites: list[Site],
    contractor: Organisation,
    starts_on: date | None,
    ends_on: date | None,
    now: datetime,
) -> None:
    """From today at each site where no day was named, or where that day has passed meanwhile."""
    for site in sites:
        today = now.astimezone(site.zone).date()
        begins = max(starts_on, today) if starts_on else today
        if ends_on and ends_on < begins:
            continue
        ServiceContract.objects.create(
            site=site, contractor=contractor, starts_on=begins, ends_on=ends_on
        )
