from django.db import models
from django.db.models import Q

from registry.models import Site, System, User


class FeedTokenQuerySet(models.QuerySet):
    def live(self):
        return self.filter(revoked_at__isnull=True, user__is_active=True)


class FeedToken(models.Model):
    """A secret address for one person's calendar program. Only the digest of the secret is kept."""

    class Scope(models.TextChoices):
        PERSON = "person", "Everything I may see"
        SITE = "site", "One site"
        SYSTEM = "system", "One system"

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feed_tokens")
    label = models.CharField(max_length=80)
    scope = models.CharField(max_length=12, choices=Scope, default=Scope.PERSON)
    site = models.ForeignKey(
        Site, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    system = models.ForeignKey(
        System, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    digest = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_fetched_at = models.DateTimeField(null=True, blank=True)

    objects = FeedTokenQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(scope="person", site__isnull=True, system__isnull=True)
                    | Q(scope="site", site__isnull=False, system__isnull=True)
                    | Q(scope="system", site__isnull=True, system__isnull=False)
                ),
                name="feed_names_what_its_scope_needs",
            )
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def holds(self) -> str:
        """What is in the feed, in words."""
        if self.site:
            return f"Follow-ups at {self.site}"
        if self.system:
            return f"Follow-ups of {self.system}, {self.system.site}"
        return "Follow-ups at every site you may see"
