import secrets
import uuid
from base64 import b64encode
from collections.abc import Iterable
from typing import cast

from django.db import models
from django.urls import reverse
from django.utils.crypto import salted_hmac

from registry.models import Organisation, User
from registry.models.querysets import OwnedQuerySet
from registry.translation import _

SECRET_PREFIX = "whsec_"  # nosec B105


def new_nonce() -> str:
    return secrets.token_urlsafe(32)


class WebhookEndpointQuerySet(OwnedQuerySet):
    def wanting(self, kind: str, owner_id: int) -> list["WebhookEndpoint"]:
        """A handful per owner; the kinds are a list in JSON that SQLite cannot search."""
        active = cast(Iterable[WebhookEndpoint], self.filter(owner=owner_id, is_active=True))
        return [endpoint for endpoint in active if kind in endpoint.kinds]


class WebhookEndpoint(models.Model):
    """Where an owner's other programs hear of news.

    The secret signs every delivery. It is not kept but made again each time from the server's key
    and this row's nonce, so that a copy of the database signs nothing. A new nonce is a new secret.
    """

    owner = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="endpoints")
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    label = models.CharField("name", max_length=80)
    url = models.CharField("address", max_length=500)
    nonce = models.CharField(max_length=64, default=new_nonce, editable=False)
    is_secret_unseen = models.BooleanField(
        default=False,
        editable=False,
        help_text=_("An update made a new one that nobody was shown."),
    )
    kinds = models.JSONField("news", default=list)
    is_active = models.BooleanField(_("Deliver to this address"), default=True)
    stopped_because = models.CharField(max_length=200, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="endpoints")
    made_at = models.DateTimeField()

    objects = WebhookEndpointQuerySet.as_manager()

    class Meta:
        ordering = ["label", "pk"]

    def __str__(self) -> str:
        return self.label

    def get_absolute_url(self) -> str:
        return reverse("scheduling:webhook", args=[self.pk])

    @property
    def secret(self) -> str:
        """HMAC-SHA256 over the row's own name and nonce, written as Standard Webhooks asks."""
        told = f"{self.uuid} {self.nonce}"
        made = salted_hmac("scheduling.webhook.secret", told, algorithm="sha256")
        return SECRET_PREFIX + b64encode(made.digest()).decode()


class Delivery(models.Model):
    """One attempt to deliver to an endpoint, and what came of it."""

    message = models.ForeignKey(
        "scheduling.Message", on_delete=models.CASCADE, related_name="deliveries"
    )
    attempted_at = models.DateTimeField()
    address = models.CharField(max_length=45, blank=True, help_text=_("The address connected to."))
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    took_ms = models.PositiveIntegerField(default=0)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-attempted_at", "-pk"]
        verbose_name_plural = "deliveries"

    def __str__(self) -> str:
        return f"{self.status or self.error}"
