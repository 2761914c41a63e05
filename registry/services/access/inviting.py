"""Invitations made, sent again, withdrawn, and their mail."""

from collections.abc import Collection
from datetime import date, datetime, timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext

from registry.jobs.asking import ask
from registry.models import Invitation, Organisation, Site, User
from registry.models.access import LASTS, digest_of, new_nonce
from registry.services.access.log import changing_access

Kind = Invitation.Kind
MAIL = "registry.invitation_mail"
MOST_A_DAY = 50
FOLDER_BACKEND = "scheduling.messages.folder.FolderBackend"
MAY_INVITE = {
    Organisation.Kind.OWNER: (Kind.MEMBER, Kind.CONTRACTOR, Kind.AUDITOR),
    Organisation.Kind.CONTRACTOR: (Kind.MEMBER, Kind.OWNER),
    Organisation.Kind.AUDITOR: (Kind.MEMBER,),
}
"""Owner and contractor find each other so, and in no list of all."""


def kinds_for(organisation: Organisation) -> tuple[Kind, ...]:
    return MAY_INVITE[Organisation.Kind(organisation.kind)]


def invite(
    *,
    organisation: Organisation,
    kind: str,
    email: str,
    invited_by: User,
    now: datetime,
    role: str = "",
    sites: Collection[Site] = (),
    starts_on: date | None = None,
    ends_on: date | None = None,
) -> Invitation:
    """An invitation of the same person to the same before it is withdrawn: one address works."""
    if kind not in kinds_for(organisation):
        raise ValidationError(gettext("This organisation does not invite such people."))
    with changing_access(organisation, by=invited_by, now=now):
        _check_not_too_many(organisation, now)
        email = email.lower()
        earlier = organisation.invitations.pending().filter(kind=kind, email=email)
        earlier.update(withdrawn_at=now)
        made = Invitation(
            organisation=organisation,
            kind=kind,
            email=email,
            role=role,
            starts_on=starts_on,
            ends_on=ends_on,
            invited_by=invited_by,
            invited_at=now,
            expires_at=now + LASTS,
        )
        made.digest = digest_of(made.secret)
        made.full_clean(exclude=["role"])
        made.save()
        made.sites.set(sites)
        _ask_for_mail(made, now)
    return made


def invite_again(*, invitation: Invitation, invited_by: User, now: datetime) -> Invitation | None:
    """A new address for as long again; the old one is dead. None where it was closed meanwhile."""
    organisation = invitation.organisation
    with changing_access(organisation, by=invited_by, now=now):
        _check_not_too_many(organisation, now)
        held = organisation.invitations.pending().filter(pk=invitation.pk).first()
        if held is None:
            return None
        held.nonce, held.expires_at, held.sent_at = new_nonce(), now + LASTS, None
        held.digest, held.invited_by, held.invited_at = digest_of(held.secret), invited_by, now
        held.save()
        _ask_for_mail(held, now)
    return held


def withdraw_invitation(*, invitation: Invitation, withdrawn_by: User, now: datetime) -> bool:
    with changing_access(invitation.organisation, by=withdrawn_by, now=now):
        pending = Invitation.objects.pending().filter(pk=invitation.pk)
        return bool(pending.update(withdrawn_at=now))


def link_of(invitation: Invitation) -> str:
    return settings.PUBLIC_URL + reverse("registry:invitation", args=[invitation.secret])


def mail_lies_in_a_folder() -> bool:
    """Then the invited person gets none, and the address is shown to whoever invites."""
    return settings.EMAIL_BACKEND == FOLDER_BACKEND


def send_mail(invitation_pk: int, now: datetime) -> str:
    """What became of it, in words; a closed invitation needs no mail any more."""
    found = Invitation.objects.live(now).filter(pk=invitation_pk, sent_at=None)
    invitation = found.select_related("organisation", "invited_by").first()
    if invitation is None:
        return "needless: closed or sent already"
    context = {
        "invitation": invitation,
        "link": link_of(invitation),
        "until": invitation.expires_at,
    }
    subject = gettext("{organisation} invites you to Riserbook").format(
        organisation=" ".join(invitation.organisation.name.split())
    )
    body = render_to_string("registry/mail/invitation.txt", context)
    EmailMessage(subject=subject, body=body, to=[invitation.email]).send()
    Invitation.objects.filter(pk=invitation.pk, nonce=invitation.nonce).update(sent_at=now)
    return "sent"


def _ask_for_mail(invitation: Invitation, now: datetime) -> None:
    owner = invitation.organisation
    is_owner = owner.kind == Organisation.Kind.OWNER
    ask(
        MAIL,
        arguments={"invitation": invitation.pk},
        key=f"{invitation.pk} {invitation.nonce[:8]}",
        owner=owner if is_owner else None,
        now=now,
    )


def _check_not_too_many(organisation: Organisation, now: datetime) -> None:
    """A manager's account in wrong hands, or a slip, sends no flood of mail."""
    today = organisation.invitations.filter(invited_at__gt=now - timedelta(days=1))
    if today.count() >= MOST_A_DAY:
        raise ValidationError(
            gettext(
                "{most} invitations went out within a day, which is the most. Wait a day."
            ).format(most=MOST_A_DAY)
        )
