"""Invitations, and the log of what each organisation's people may do and read."""

import secrets
import uuid
from base64 import urlsafe_b64encode
from datetime import datetime, timedelta
from hashlib import sha256

from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac

from registry.models.people import Membership, Organisation, User
from registry.models.sites import Site
from registry.translation import _

LASTS = timedelta(days=7)


def new_nonce() -> str:
    return secrets.token_urlsafe(32)


def digest_of(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


class InvitationQuerySet(models.QuerySet["Invitation"]):
    def pending(self) -> "InvitationQuerySet":
        """Neither accepted nor withdrawn; some of them may have expired."""
        return self.filter(accepted_at=None, withdrawn_at=None)

    def live(self, now: datetime) -> "InvitationQuerySet":
        return self.pending().filter(expires_at__gt=now)


class Invitation(models.Model):
    """An address by which one person comes in, once.

    The secret in it is not kept but made again from the server's key and this row's nonce, so that
    a copy of the database opens nothing. A new nonce is a new address, and the old one is dead.
    """

    class Kind(models.TextChoices):
        MEMBER = "member", _("A person of ours")
        CONTRACTOR = "contractor", _("A contractor")
        AUDITOR = "auditor", _("An auditor or insurer")
        OWNER = "owner", _("An owner whose sites we serve")

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="invitations"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    email = models.EmailField(_("e-mail address"))
    role = models.CharField(max_length=10, choices=Membership.Role, blank=True)
    sites = models.ManyToManyField(Site, blank=True, related_name="+")
    starts_on = models.DateField(null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True)
    nonce = models.CharField(max_length=64, default=new_nonce, editable=False)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    invited_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="invited")
    invited_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="accepted_invitations"
    )
    accepted_for = models.ForeignKey(
        Organisation, on_delete=models.SET_NULL, null=True, blank=True,
        related_name="accepted_invitations",
    )  # fmt: skip
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-invited_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True) | Q(withdrawn_at__isnull=True),
                name="invitation_accepted_or_withdrawn",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True)
                | Q(starts_on__isnull=True)
                | Q(ends_on__gte=models.F("starts_on")),
                name="invited_contract_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.email} invited by {self.organisation}"

    @property
    def secret(self) -> str:
        """HMAC-SHA256 over the row's own name and nonce, 43 characters."""
        told = f"{self.uuid} {self.nonce}"
        made = salted_hmac("registry.invitation.secret", told, algorithm="sha256")
        return urlsafe_b64encode(made.digest()).decode().rstrip("=")

    @property
    def is_for_a_member(self) -> bool:
        return self.kind == self.Kind.MEMBER

    @property
    def is_pending(self) -> bool:
        return self.accepted_at is None and self.withdrawn_at is None

    def has_expired(self, now: datetime) -> bool:
        return self.expires_at <= now


class AccessEntry(models.Model):
    """One thing that an organisation's people, or others by its leave, may do from then on.

    Nobody in `by`: the book found it so when the log began. `facts` are what was compared;
    `words` are names as they were then, to read.
    """

    class Change(models.TextChoices):
        FOUND = "found", _("found so when the log began")
        GIVEN = "given", _("given")
        CHANGED = "changed", _("changed")
        ENDED = "ended", _("ended")

    organisation = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="access_log"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    by_name = models.CharField(max_length=320, blank=True)
    subject = models.CharField(max_length=12)
    key = models.CharField(max_length=100)
    change = models.CharField(max_length=8, choices=Change)
    facts = models.JSONField(default=dict)
    words = models.JSONField(default=dict)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "access entries"
        indexes = [models.Index(fields=["organisation", "subject", "key"])]

    def __str__(self) -> str:
        return f"{self.subject} {self.key} {self.change}"
