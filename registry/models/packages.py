import uuid
from datetime import datetime, timedelta

from django.db import models
from django.urls import reverse

from registry.models.people import Organisation, User
from registry.translation import _

KEPT_FOR = timedelta(days=14)


class RecordPackage(models.Model):
    """A package of records with their proofs that somebody asked for; the file is kept for a while
    and can be made again at any time."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    owner = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="packages")
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="packages")
    asked_at = models.DateTimeField()
    sites = models.JSONField(default=list, blank=True)
    systems = models.JSONField(default=list, blank=True)
    kinds = models.JSONField(default=list, blank=True)
    since = models.DateTimeField(null=True, blank=True)
    until = models.DateTimeField(null=True, blank=True)
    records = models.PositiveIntegerField(default=0)  # in full or by their hash
    made_at = models.DateTimeField(null=True, blank=True)
    file = models.FileField(upload_to="packages", blank=True)
    bytes = models.PositiveBigIntegerField(default=0)
    manifest_sha256 = models.CharField(max_length=64, blank=True)
    refused = models.JSONField(default=list, blank=True)  # why it was not made

    class Meta:
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.owner}, {self.asked_at:%Y-%m-%d %H:%M}"

    def get_absolute_url(self) -> str:
        return reverse("reports:package", args=[self.uuid])

    @property
    def is_whole(self) -> bool:
        return not (self.sites or self.systems or self.kinds or self.since or self.until)

    @property
    def is_over(self) -> bool:
        return bool(self.made_at or self.refused)

    @property
    def kept_until(self) -> datetime | None:
        return self.made_at + KEPT_FOR if self.made_at else None

    @property
    def file_name(self) -> str:
        return f"records-{self.asked_at:%Y-%m-%d}-{self.manifest_sha256[:12]}.zip"


class PackageLinkQuerySet(models.QuerySet):
    def live(self, now: datetime):
        """Whoever gave it out must still be somebody here, and the file must be kept still."""
        return self.filter(
            revoked_at__isnull=True, expires_at__gt=now, made_by__is_active=True
        ).exclude(package__file="")


class PackageLink(models.Model):
    """A secret address under which one package can be fetched by whoever has it, until it expires
    or is taken back. Only the digest of the secret is kept."""

    package = models.ForeignKey(RecordPackage, on_delete=models.CASCADE, related_name="links")
    label = models.CharField(_("For whom"), max_length=80)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    fetched = models.PositiveIntegerField(default=0, editable=False)
    last_fetched_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = PackageLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.label}, until {self.expires_at:%Y-%m-%d %H:%M}"

    def is_live(self, now: datetime) -> bool:
        return self.revoked_at is None and self.expires_at > now
